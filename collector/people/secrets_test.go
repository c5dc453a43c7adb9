package people

import (
	"bytes"
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"brinebell/collector/state"
	"brinebell/detect/care"
)

const good = "four words make one"

// TestAgainstTheReferenceHash checks a hash made by the reference
// implementation: github.com/P-H-C/phc-winner-argon2, src/test.c, argon2id with
// t=2, m=65536, p=1, password "password", salt "somesalt".
func TestAgainstTheReferenceHash(t *testing.T) {
	s, _ := open(t)
	const reference = "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc"
	for password, want := range map[string]bool{"password": true, "Password": false, "": false} {
		if got, err := s.matches(context.Background(), password, reference); err != nil || got != want {
			t.Errorf("%q: %v %v", password, got, err)
		}
	}
}

// TestPasswordCost holds the default to RFC 9106, section 4, second option:
// t=3, p=4, m=2^16 KiB, 128-bit salt, 256-bit tag.
func TestPasswordCost(t *testing.T) {
	hash, err := (&Store{cost: DefaultCost, hashing: make(chan struct{}, 1)}).hash(context.Background(), good)
	if err != nil || !strings.HasPrefix(hash, "$argon2id$v=19$m=65536,t=3,p=4$") {
		t.Error(hash, err)
	}
	part := strings.Split(hash, "$")
	if len(part[4]) != 22 || len(part[5]) != 43 { // 16 and 32 bytes in unpadded base64
		t.Error("salt or tag of another length", hash)
	}
}

func TestHashesThatCannotBeRead(t *testing.T) {
	s, _ := open(t)
	for _, hash := range []string{"", "x", "$argon2i$v=19$m=8,t=1,p=1$c29tZXNhbHQ$aaaa", "$argon2id$v=16$m=8,t=1,p=1$c29tZXNhbHQ$aaaa",
		"$argon2id$v=19$m=8,t=0,p=1$c29tZXNhbHQ$aaaa", "$argon2id$v=19$m=8,t=1,p=1$!$aaaa", "$argon2id$v=19$m=8,t=1,p=1$c29tZXNhbHQ$", "$argon2id$v=19$m=8,t=1,p=1$c29tZXNhbHQ$!"} {
		if ok, err := s.matches(context.Background(), good, hash); ok || err == nil {
			t.Errorf("%q: %v %v", hash, ok, err)
		}
	}
}

func TestWhichPasswordsWillDo(t *testing.T) {
	for password, want := range map[string]bool{good: true, strings.Repeat("ab", 8): false, "short": false, "fourteen chars": false,
		"fifteen chars !": true, "пароль из четырёх слов": true, strings.Repeat("x1y2z3", 50): false} {
		if err := CheckPassword(password); (err == nil) != want {
			t.Errorf("%q: %v", password, err)
		}
	}
}

func TestSigningIn(t *testing.T) {
	s, _ := open(t)
	ctx := context.Background()
	p := add(t, s, household())
	refused := func(why, email, password string) {
		t.Helper()
		if got, _, err := s.SignIn(ctx, email, password); !errors.Is(err, care.ErrWrong) || got.ID != "" {
			t.Errorf("%s: %v %v", why, got, err)
		}
	}
	refused("no password yet", p.Email, "")
	if err := s.SetPassword(ctx, p.ID, "short"); !errors.Is(err, care.ErrBad) {
		t.Error(err)
	}
	if err := s.SetPassword(ctx, p.ID, "café au lait, twice"); err != nil {
		t.Fatal(err)
	}
	refused("wrong", p.Email, good)
	refused("nobody", "nobody@example.org", good)
	got, epoch, err := s.SignIn(ctx, p.Email, "cafe\u0301 au lait, twice") // composed otherwise, as another keyboard does
	if err != nil || got.ID != p.ID {
		t.Fatal(got, err)
	}
	if got, err := s.Current(ctx, p.ID, epoch); err != nil || got.ID != p.ID {
		t.Error(got, err)
	}
	for what, change := range map[string]func() error{
		"a new password": func() error { return s.SetPassword(ctx, p.ID, good) },
		"disabling":      func() error { p.Disabled = true; return s.Change(ctx, p) },
	} {
		now := s.epochOf(t, p.ID)
		if err := change(); err != nil {
			t.Fatal(err)
		}
		if _, err := s.Current(ctx, p.ID, now); !errors.Is(err, care.ErrWrong) {
			t.Errorf("%s leaves a session: %v", what, err)
		}
	}
	refused("disabled", p.Email, good)
	if _, err := s.Current(ctx, "nobody", 0); !errors.Is(err, care.ErrWrong) {
		t.Error(err)
	}
}

func (s *Store) epochOf(t *testing.T, id string) int64 {
	t.Helper()
	a, err := s.account(context.Background(), `id = ?`, id)
	if err != nil {
		t.Fatal(err)
	}
	return a.epoch
}

func TestALinkWorksOnceAndForAWhile(t *testing.T) {
	s, c := open(t)
	ctx := context.Background()
	p := add(t, s, household())
	invite := func() string {
		t.Helper()
		secret, err := s.Invite(ctx, p.ID, ResetTime)
		if err != nil || len(secret) < 22 { // 128 bits at 6 a character
			t.Fatal(secret, err)
		}
		return secret
	}
	first := invite()
	if got, err := s.ByLink(ctx, first); err != nil || got.ID != p.ID {
		t.Error(got, err)
	}
	if _, _, err := s.UseLink(ctx, first, "short"); !errors.Is(err, care.ErrBad) {
		t.Error(err)
	}
	if _, _, err := s.UseLink(ctx, first, good); err != nil {
		t.Fatal("after a bad password", err)
	}
	replaced := invite()
	expired := invite()
	c.pass(ResetTime)
	for name, secret := range map[string]string{"used": first, "replaced": replaced, "expired": expired, "made up": "x", "empty": ""} {
		if _, err := s.ByLink(ctx, secret); !errors.Is(err, care.ErrWrong) {
			t.Errorf("%s: %v", name, err)
		}
		if _, _, err := s.UseLink(ctx, secret, good); !errors.Is(err, care.ErrWrong) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, _, err := s.SignIn(ctx, p.Email, good); err != nil {
		t.Error("the password of the first link:", err)
	}
	unused := invite()
	p.Disabled = true
	if err := s.Change(ctx, p); err != nil {
		t.Fatal(err)
	}
	if _, err := s.ByLink(ctx, unused); !errors.Is(err, care.ErrWrong) {
		t.Error("a link of somebody disabled:", err)
	}
	if _, err := s.Invite(ctx, "nobody", ResetTime); !errors.Is(err, care.ErrNone) {
		t.Error(err)
	}
}

func TestTokens(t *testing.T) {
	s, c := open(t)
	ctx := context.Background()
	p := add(t, s, household())
	want := care.Token{Person: p.ID, Name: "spreadsheet", Scope: care.ReadScope, Expires: c.now.Add(24 * time.Hour)}
	made, secret, err := s.AddToken(ctx, want)
	if err != nil || !strings.HasPrefix(secret, TokenPrefix) {
		t.Fatal(secret, err)
	}
	c.pass(3 * time.Hour)
	got, token, err := s.ByToken(ctx, secret)
	if err != nil || got.ID != p.ID || token.ID != made.ID || token.Scope != care.ReadScope {
		t.Fatal(got, token, err)
	}
	if all, err := s.Tokens(ctx, p.ID); err != nil || len(all) != 1 || !all[0].Used.Equal(c.now.Truncate(time.Hour)) {
		t.Error(all, err)
	}
	for name, change := range map[string]func(*care.Token){
		"past": func(t *care.Token) { t.Expires = c.now }, "for ever": func(t *care.Token) { t.Expires = c.now.Add(3 * MaxTokenTime) },
		"scope": func(t *care.Token) { t.Scope = "all" }, "name": func(t *care.Token) { t.Name = "" },
	} {
		bad := want
		change(&bad)
		if _, _, err := s.AddToken(ctx, bad); !errors.Is(err, care.ErrBad) {
			t.Errorf("%s: %v", name, err)
		}
	}
	wrong := func(name, secret string) {
		t.Helper()
		if _, _, err := s.ByToken(ctx, secret); !errors.Is(err, care.ErrWrong) {
			t.Errorf("%s: %v", name, err)
		}
	}
	wrong("another", TokenPrefix+"x")
	if err := s.RemoveToken(ctx, "another", made.ID); !errors.Is(err, care.ErrNone) {
		t.Error("somebody else's token:", err)
	}
	c.pass(24 * time.Hour)
	wrong("expired", secret)
	want.Expires = c.now.Add(time.Hour)
	made, secret, err = s.AddToken(ctx, want)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.RemoveToken(ctx, p.ID, made.ID); err != nil {
		t.Error(err)
	}
	wrong("removed", secret)
	for range maxTokens {
		if _, _, err = s.AddToken(ctx, want); err != nil {
			t.Fatal(err)
		}
	}
	if _, _, err = s.AddToken(ctx, want); !errors.Is(err, care.ErrBad) {
		t.Error("as many as one likes:", err)
	}
}

func TestSessions(t *testing.T) {
	s, c := open(t)
	sessions := s.Sessions()
	if err := sessions.Commit("t1", []byte("a"), c.now.Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	if err := sessions.Commit("t1", []byte("b"), c.now.Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	if data, ok, err := sessions.Find("t1"); !ok || err != nil || string(data) != "b" {
		t.Error(data, ok, err)
	}
	c.pass(time.Hour)
	if _, ok, err := sessions.Find("t1"); ok || err != nil {
		t.Error("expired", ok, err)
	}
	if err := sessions.Commit("t2", []byte("b"), c.now.Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	if err := sessions.Delete("t2"); err != nil {
		t.Fatal(err)
	}
	if _, ok, _ := sessions.Find("t2"); ok {
		t.Error("deleted")
	}
}

func TestDevices(t *testing.T) {
	s, _ := open(t)
	ctx := context.Background()
	d := care.Device{Home: "mill-1", ID: "meter", Name: "Water meter", Topics: []string{"plumbing/mill-1/main"}, Password: true}
	password, err := s.AddDevice(ctx, d)
	if err != nil || len(password) < 22 {
		t.Fatal(password, err)
	}
	if got, err := s.DeviceByPassword(ctx, "mill-1/meter", password); err != nil || got.Topics[0] != d.Topics[0] || !got.Password {
		t.Error(got, err)
	}
	wrong := func(login, password string) {
		t.Helper()
		if _, err := s.DeviceByPassword(ctx, login, password); !errors.Is(err, care.ErrWrong) {
			t.Errorf("%s: %v", login, err)
		}
	}
	for _, login := range []string{"mill-1/metre", "mill-2/meter", "meter", "mill-1/", "/meter", ""} {
		wrong(login, password)
	}
	wrong("mill-1/meter", password+"x")
	certified := care.Device{Home: "mill-1", ID: "level", Name: "Level"}
	if password, err := s.AddDevice(ctx, certified); err != nil || password != "" {
		t.Error(password, err)
	}
	wrong("mill-1/level", "")
	if got, err := s.DeviceByName(ctx, "mill-1/level"); err != nil || got.Password {
		t.Error(got, err)
	}
	if renewed, err := s.NewDevicePassword(ctx, "mill-1", "meter"); err != nil || renewed == password {
		t.Error(err)
	}
	wrong("mill-1/meter", password)
	d.Disabled = true
	if err := s.ChangeDevice(ctx, d); err != nil {
		t.Error(err)
	}
	if _, err := s.DeviceByName(ctx, "mill-1/meter"); !errors.Is(err, care.ErrWrong) {
		t.Error("disabled:", err)
	}
	if hashes, err := s.DeviceHashes(ctx); err != nil || len(hashes) != 0 {
		t.Error(hashes, err)
	}
	if _, err := s.AddDevice(ctx, d); !errors.Is(err, care.ErrTaken) {
		t.Error(err)
	}
	for _, bad := range []care.Device{{ID: "a/b", Name: "x"}, {ID: "+", Name: "x"}, {ID: "a", Name: ""}, {ID: "a", Name: "x", Topics: []string{"#"}},
		{ID: "a", Name: "x", Topics: []string{"a/+"}}, {ID: "a", Name: "x", Topics: []string{"homes/mill-2/sensors/meter"}}, {ID: "a", Name: "x", Topics: []string{"$SYS/x"}}} {
		bad.Home = "mill-1"
		if _, err := s.AddDevice(ctx, bad); !errors.Is(err, care.ErrBad) {
			t.Errorf("%v: %v", bad, err)
		}
	}
	if err := s.RemoveDevice(ctx, "mill-1", "meter"); err != nil {
		t.Error(err)
	}
	if all, err := s.Devices(ctx, "mill-1"); err != nil || len(all) != 1 {
		t.Error(all, err)
	}
}

// TestMosquittosOwnHash checks a password hashed by mosquitto_passwd itself.
func TestMosquittosOwnHash(t *testing.T) {
	program, err := exec.LookPath("mosquitto_passwd")
	if err != nil {
		t.Skip("left out: mosquitto_passwd is not installed (apt-get install mosquitto)")
	}
	path := filepath.Join(t.TempDir(), "passwords")
	if out, err := exec.Command(program, "-c", "-b", path, "mill-1/meter", good).CombinedOutput(); err != nil {
		t.Fatal(err, string(out))
	}
	line, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	_, hash, _ := strings.Cut(strings.TrimSpace(string(line)), ":")
	if !matchesDevice(good, hash) || matchesDevice("another", hash) {
		t.Errorf("%s", line)
	}
	for _, hash := range []string{"", "$6$101$a$b", "$7$0$YQ==$YQ==", "$7$x$YQ==$YQ==", "$7$101$!$YQ==", "$7$101$YQ==$!", "$7$101$YQ==$YQ==", "$7$99999999$YQ==$YQ=="} {
		if matchesDevice(good, hash) {
			t.Errorf("%q matches", hash)
		}
	}
}

// TestNoSecretIsOnDisk looks for every secret in the store's files.
func TestNoSecretIsOnDisk(t *testing.T) {
	dir := t.TempDir()
	ctx := context.Background()
	db, err := state.Open(ctx, filepath.Join(dir, "state.db"), nil)
	if err != nil {
		t.Fatal(err)
	}
	s := New(Options{DB: db, Cost: cheap})
	p := add(t, s, care.Person{Role: care.Operator, Name: "Op", Email: "op@example.org"})
	link, err1 := s.Invite(ctx, p.ID, InviteTime)
	_, token, err2 := s.AddToken(ctx, care.Token{Person: p.ID, Name: "x", Scope: care.ReadScope, Expires: time.Now().Add(time.Hour)})
	err3 := db.SaveHome(ctx, state.Home{ID: "mill-1", Profile: "id: mill-1"})
	device, err4 := s.AddDevice(ctx, care.Device{Home: "mill-1", ID: "meter", Name: "Meter", Password: true})
	err5 := s.Sessions().Commit("a-session-token", []byte("x"), time.Now().Add(time.Hour))
	err6 := s.SetPassword(ctx, p.ID, good)
	if err := errors.Join(err1, err2, err3, err4, err5, err6, db.Close()); err != nil {
		t.Fatal(err)
	}
	files, err := filepath.Glob(filepath.Join(dir, "*"))
	if err != nil || len(files) == 0 {
		t.Fatal(files, err)
	}
	for _, file := range files {
		content, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for name, secret := range map[string]string{"password": good, "link": link, "token": token, "device": device, "session": "a-session-token"} {
			if bytes.Contains(content, []byte(secret)) {
				t.Errorf("%s: the %s is in it", filepath.Base(file), name)
			}
		}
		if filepath.Base(file) == "state.db" && !bytes.Contains(content, []byte("op@example.org")) {
			t.Error("the test looks in the wrong place")
		}
	}
}

func TestTheFirstOperator(t *testing.T) {
	s, _ := open(t)
	ctx := context.Background()
	old, ok, err := s.FirstLink(ctx)
	if !ok || err != nil {
		t.Fatal(ok, err)
	}
	secret, ok, err := s.FirstLink(ctx) // as after a restart
	if !ok || err != nil {
		t.Fatal(ok, err)
	}
	if _, err := s.ByLink(ctx, old); !errors.Is(err, care.ErrWrong) {
		t.Error("two links at a time")
	}
	if err := s.Introduce(ctx, secret, "Olga", "x"); !errors.Is(err, care.ErrBad) {
		t.Error(err)
	}
	if err := s.Introduce(ctx, secret, "Olga", "olga@example.org"); err != nil {
		t.Fatal(err)
	}
	if err := s.Introduce(ctx, secret, "Mallory", "mallory@example.org"); !errors.Is(err, care.ErrWrong) {
		t.Error("somebody else may say who it is:", err)
	}
	p, _, err := s.UseLink(ctx, secret, good)
	if err != nil || p.Name != "Olga" || p.Role != care.Operator {
		t.Fatal(p, err)
	}
	if _, ok, err := s.FirstLink(ctx); ok || err != nil {
		t.Error("a link when there is an operator", err)
	}
}
