package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

// served is a service that runs for a test, as "brinebell serve" does.
type served struct {
	t      *testing.T
	config string
	first  string // link of the first account
	url    string
	broker string
	log    *lines
}

var (
	linkPrinted = regexp.MustCompile(`http://127\.0\.0\.1:\d+/link/\S+`)
	brokerSaid  = regexp.MustCompile(`broker=(127\.0\.0\.1:\d+)`)
)

// serve runs the command with a homes file until the test ends.
func serve(t *testing.T) *served {
	t.Helper()
	dir := t.TempDir()
	s := &served{t: t, config: filepath.Join(dir, "brinebell.yaml")}
	for name, text := range map[string]string{
		"homes.yaml":     "homes:\n  - {id: mill-1, timezone: Europe/Dublin}\n  - {id: mill-2, timezone: Europe/Dublin}\n  - {id: quay-1, timezone: Europe/Dublin}\n",
		"brinebell.yaml": "listen: 127.0.0.1:0\nbroker: {listen: \"127.0.0.1:0\", username: collector}\nadapters:\n  - {topic: \"plumbing/{home}/main\", pointer: /v, signal: inlet_volume}\n",
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	out, log := newLines(), newLines()
	ended := make(chan int, 1)
	go func() { ended <- run(ctx, []string{"serve", "--config", s.config}, strings.NewReader(""), out, log) }()
	t.Cleanup(func() {
		cancel()
		if code := <-ended; code != exitDone {
			t.Errorf("serve ends with %d\n%s", code, log.text())
		}
	})
	s.first = out.await(t, linkPrinted)
	s.url, _, _ = strings.Cut(s.first, "/link/")
	s.broker = strings.TrimPrefix(log.await(t, brokerSaid), "broker=")
	s.log = log
	return s
}

// lines gathers what is written, and waits for what it looks for.
type lines struct {
	w *io.PipeWriter
	c chan string
	b *bytes.Buffer
}

func newLines() *lines {
	r, w := io.Pipe()
	l := &lines{w, make(chan string, 1000), &bytes.Buffer{}}
	go func() {
		for in := bufio.NewScanner(r); in.Scan(); {
			select {
			case l.c <- in.Text():
			default: // nobody looks any more
			}
		}
	}()
	return l
}

func (l *lines) Write(b []byte) (int, error) { return l.w.Write(b) }

func (l *lines) text() string {
	for {
		select {
		case line := <-l.c:
			fmt.Fprintln(l.b, line)
		default:
			return l.b.String()
		}
	}
}

func (l *lines) await(t *testing.T, what *regexp.Regexp) string {
	t.Helper()
	deadline := time.After(30 * time.Second)
	for {
		select {
		case line := <-l.c:
			fmt.Fprintln(l.b, line)
			if found := what.FindString(line); found != "" {
				return found
			}
		case <-deadline:
			t.Fatalf("%v was not said:\n%s", what, l.text())
		}
	}
}

const testPassword = "four words make one"

// enter opens a link as a person does, and is then signed in.
func (s *served) enter(link string, more ...string) *http.Client {
	s.t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		s.t.Fatal(err)
	}
	c := &http.Client{Jar: jar}
	form := url.Values{"password": {testPassword}, "again": {testPassword}}
	for i := 0; i+1 < len(more); i += 2 {
		form.Set(more[i], more[i+1])
	}
	// The commands know the configured address only, not the port that was free.
	_, secret, _ := strings.Cut(strings.TrimSpace(link), "/link/")
	res, err := c.PostForm(s.url+"/link/"+secret, form)
	if err != nil {
		s.t.Fatal(err)
	}
	defer res.Body.Close()
	if res.Request.URL.Path != "/" || res.StatusCode != http.StatusOK {
		body, _ := io.ReadAll(res.Body)
		s.t.Fatalf("not in, but at %s: %d\n%s", res.Request.URL, res.StatusCode, body)
	}
	return c
}

// get is what a path gives: its status, its body and its headers but the date.
func (s *served) get(c *http.Client, method, path string, headers ...string) (int, string) {
	s.t.Helper()
	r, err := http.NewRequest(method, s.url+path, nil)
	if err != nil {
		s.t.Fatal(err)
	}
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	res, err := c.Do(r)
	if err != nil {
		s.t.Fatal(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil {
		s.t.Fatal(err)
	}
	return res.StatusCode, string(body)
}

// cmd runs a command with the service's configuration.
func (s *served) cmd(args ...string) string {
	s.t.Helper()
	return must(s.t, append(args, "--config", s.config)...)
}

// TestFromTheFirstLinkToTheLastErasure sets up an installation as its operator
// does, and uses it as everybody does, over the real stores and brokers.
func TestFromTheFirstLinkToTheLastErasure(t *testing.T) {
	s := serve(t)
	for _, path := range []string{"/", "/homes/mill-1", "/api/v1/homes"} {
		if code, body := s.get(http.DefaultClient, "GET", path); strings.Contains(body, "mill-1") && code == http.StatusOK && !strings.Contains(body, "Sign in") {
			t.Errorf("%s is open: %d", path, code)
		}
	}
	op := s.enter(s.first, "name", "Olga", "email", "olga@example.org")
	if code, body := s.get(op, "GET", "/api/v1/me"); code != http.StatusOK || !strings.Contains(body, `"operator"`) {
		t.Fatal(code, body)
	}
	s.cmd("firm", "add", "north", "North Shore")
	s.cmd("firm", "add", "south", "Southmere")
	for home, firm := range map[string]string{"mill-1": "north", "mill-2": "north", "quay-1": "south"} {
		s.cmd("homes", "place", home, "--firm", firm)
	}
	who := map[string]*http.Client{"operator": op}
	for name, args := range map[string][]string{
		"household":  {"--role", "household", "--firm", "north", "--home", "mill-1"},
		"technician": {"--role", "technician", "--firm", "north"},
		"manager":    {"--role", "manager", "--firm", "north"},
	} {
		who[name] = s.enter(s.cmd(append([]string{"people", "add", name, name + "@example.org"}, args...)...))
	}
	t.Run("pages", func(t *testing.T) { s.pagesFor(t, who) })
	t.Run("devices", func(t *testing.T) { s.devices(t, who) })
	t.Run("fleet", func(t *testing.T) { s.fleet(t, who["manager"]) })
	t.Run("people", func(t *testing.T) { s.peoplePage(t, who["manager"]) })
	t.Run("tokens", func(t *testing.T) { s.tokens(t) })
	t.Run("erasure", func(t *testing.T) { s.erasure(t, who) })
	s.cmd("people", "disable", "technician@example.org")
	if _, body := s.get(who["technician"], "GET", "/"); !strings.Contains(body, "Sign in") {
		t.Error("a disabled person is still in")
	}
	_, first, _ := strings.Cut(s.first, "/link/")
	log := s.log.text()
	for what, secret := range map[string]string{"password": testPassword, "first link": first, "guessed password": "guess", "token": "brinebell_"} {
		if strings.Contains(log, secret) {
			t.Errorf("the log has a %s:\n%s", what, log)
		}
	}
	if !strings.Contains(log, "not_allowed") {
		t.Errorf("a refusal is not logged:\n%s", log)
	}
}

// pagesFor asks for every page of a home, as each role: what is theirs is there,
// and what is not is answered as what does not exist is.
func (s *served) pagesFor(t *testing.T, who map[string]*http.Client) {
	pages := []string{"", "/set-up", "/tell", "/regenerations", "/regenerations/2026-03-01T00:00:00Z", "/cases/none", "/cases/none/sheet"}
	posts := []string{"/set-up/profile", "/set-up/devices", "/set-up/remove", "/symptoms", "/hardness", "/checks", "/away", "/salt", "/cases/none/act"}
	foreign := map[string][]string{"household": {"mill-2", "quay-1"}, "technician": {"quay-1"}, "manager": {"quay-1"}}
	for name, c := range who {
		own, _ := s.get(c, "GET", "/homes/mill-1")
		if want := map[bool]int{true: http.StatusForbidden, false: http.StatusOK}[name == "operator"]; own != want {
			t.Errorf("own home by %s: %d, want %d", name, own, want)
		}
		setup, _ := s.get(c, "GET", "/homes/mill-1/set-up")
		if want := map[bool]int{true: http.StatusForbidden, false: http.StatusOK}[name == "household"]; setup != want {
			t.Errorf("set-up of an own home by %s: %d, want %d", name, setup, want)
		}
		for _, home := range foreign[name] {
			compare := func(method, page string) {
				code, body := s.get(c, method, "/homes/"+home+page)
				absent, nothing := s.get(c, method, "/homes/nowhere"+page)
				if code != http.StatusNotFound || code != absent || body != nothing {
					t.Errorf("%s %s%s by %s: %d, one that does not exist %d\n%s\n%s", method, home, page, name, code, absent, body, nothing)
				}
			}
			for _, page := range pages {
				compare("GET", page)
			}
			for _, page := range posts {
				compare("POST", page)
			}
		}
		for _, page := range []string{"/", "/set-up", "/salt", "/fleet", "/salt.csv", "/refused"} {
			if code, body := s.get(c, "GET", page); name != "operator" && strings.Contains(body, "quay-1") {
				t.Errorf("%s tells %s of a foreign home: %d", page, name, code)
			}
		}
	}
}

// devices publishes as a device of its own home, and as one that tries another.
func (s *served) devices(t *testing.T, who map[string]*http.Client) {
	said := s.cmd("devices", "add", "mill-1", "meter", "--topic", "plumbing/mill-1/main,plumbing/quay-1/main")
	password := regexp.MustCompile(`password\s+(\S+)`).FindStringSubmatch(said)
	if password == nil {
		t.Fatal(said)
	}
	connect := func(password string) (mqtt.Client, error) {
		c := mqtt.NewClient(mqtt.NewClientOptions().AddBroker("tcp://" + s.broker).SetClientID("meter").SetUsername("mill-1/meter").SetPassword(password).SetAutoReconnect(false))
		token := c.Connect()
		token.WaitTimeout(20 * time.Second)
		return c, token.Error()
	}
	if _, err := connect("guess"); err == nil {
		t.Error("let in with a wrong password")
	}
	at := time.Now().Add(-time.Minute).Unix()
	for topic, body := range map[string]string{
		"homes/mill-1/sensors/meter": fmt.Sprintf(`[{"bn":"mill-1/meter/","n":"inlet_volume","u":"l","v":100,"t":%d}]`, at),
		"plumbing/mill-1/main":       `{"v": 101}`,
		"homes/quay-1/sensors/meter": fmt.Sprintf(`[{"bn":"quay-1/meter/","n":"inlet_volume","u":"l","v":100,"t":%d}]`, at),
		"plumbing/quay-1/main":       `{"v": 101}`,
	} {
		c, err := connect(password[1])
		if err != nil {
			t.Fatal(err)
		}
		c.Publish(topic, 1, false, body).WaitTimeout(20 * time.Second)
		c.Disconnect(100)
	}
	if code, body := s.get(who["household"], "GET", "/api/v1/homes/mill-1/signals"); code != http.StatusOK || !strings.Contains(body, `"value":101`) {
		t.Error(code, body)
	}
	code, body := s.get(who["operator"], "GET", "/api/v1/refused")
	for _, want := range []string{"homes/quay-1/sensors/meter", "plumbing/quay-1/main", "not_allowed", "did not prove it"} {
		if code != http.StatusOK || !strings.Contains(body, want) {
			t.Errorf("%s is not reported: %d %s", want, code, body)
		}
	}
	if strings.Contains(body, password[1]) || strings.Contains(body, "guess") {
		t.Error("a password is reported")
	}
	dir := t.TempDir()
	acl, passwords := filepath.Join(dir, "acl"), filepath.Join(dir, "passwords")
	s.cmd("devices", "mosquitto", "--acl", acl, "--passwords", passwords)
	rules, _ := os.ReadFile(acl)
	hashes, _ := os.ReadFile(passwords)
	if !strings.Contains(string(rules), "user mill-1/meter\ntopic write homes/mill-1/sensors/meter\ntopic write plumbing/mill-1/main\n#") || !strings.HasPrefix(string(hashes), "mill-1/meter:$7$") {
		t.Errorf("%s\n%s", rules, hashes)
	}
}

// fleet adds many homes from a table, after a dry run.
func (s *served) fleet(t *testing.T, manager *http.Client) {
	dir := t.TempDir()
	bad, good := filepath.Join(dir, "bad.csv"), filepath.Join(dir, "good.csv")
	for path, text := range map[string]string{
		bad:  "id,timezone,firm,hardness\nmill-1,Europe/Dublin,north,300 mg/L\nlane-1,Europe/Atlantis,west,hard\n",
		good: "id,timezone,firm,area,devices,hardness\nlane-1,Europe/Dublin,north,harbour,meter level,300 mg/L\nlane-2,Europe/Dublin,north,,,\n",
	} {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	code, _, errOut := command(t, "homes", "import", bad, "--do", "--config", s.config)
	for _, want := range []string{"line 2, id: another home", "line 3, timezone:", "line 3, hardness:", "none was added"} {
		if code != exitUsage || !strings.Contains(errOut, want) {
			t.Errorf("%d, without %q: %s", code, want, errOut)
		}
	}
	s.cmd("homes", "import", good)
	if list := s.cmd("homes", "list"); strings.Contains(list, "lane-1") {
		t.Error("a dry run adds homes", list)
	}
	if out := s.cmd("homes", "import", good, "--do"); !strings.Contains(out, "lane-1/meter\t") || !strings.Contains(out, "lane-1/level\t") {
		t.Error(out)
	}
	if code, body := s.get(manager, "GET", "/homes/lane-1"); code != http.StatusOK {
		t.Error(code, body)
	}
	if columns := must(t, "homes", "columns"); !strings.Contains(columns, "tank_diameter") {
		t.Error(columns)
	}
}

// peoplePage adds somebody by the page, lets them in and keeps them out again.
func (s *served) peoplePage(t *testing.T, manager *http.Client) {
	post := func(path string, form url.Values) string {
		t.Helper()
		res, err := manager.PostForm(s.url+path, form)
		if err != nil {
			t.Fatal(err)
		}
		defer res.Body.Close()
		body, err := io.ReadAll(res.Body)
		if err != nil || res.StatusCode != http.StatusOK {
			t.Fatalf("%d %v\n%s", res.StatusCode, err, body)
		}
		return string(body)
	}
	page := post("/set-up/people", url.Values{"name": {"Nora"}, "email": {"nora@example.org"}, "role": {"technician"}})
	nora := s.enter(linkPrinted.FindString(strings.ReplaceAll(page, "</code>", " ")))
	if code, _ := s.get(nora, "GET", "/homes/mill-2"); code != http.StatusOK {
		t.Error(code)
	}
	row := page[strings.Index(page, "nora@example.org"):]
	id := regexp.MustCompile(`name="person" value="(\w+)"`).FindStringSubmatch(row)[1]
	if page := post("/set-up/people/change", url.Values{"person": {id}, "do": {"keep"}}); !strings.Contains(page, "kept out") {
		t.Error(page)
	}
	if _, body := s.get(nora, "GET", "/homes/mill-2"); !strings.Contains(body, "Sign in") {
		t.Error("she is still in")
	}
}

// tokens uses the interface for programs as one.
func (s *served) tokens(t *testing.T) {
	bearer := "Bearer " + strings.TrimSpace(s.cmd("token", "add", "manager@example.org", "--scope", "read"))
	for want, call := range map[int][2]string{http.StatusOK: {"GET", "/api/v1/homes/mill-1"}, http.StatusNotFound: {"GET", "/api/v1/homes/quay-1"}, http.StatusForbidden: {"DELETE", "/api/v1/homes/mill-1"}} {
		if code, body := s.get(http.DefaultClient, call[0], call[1], "Authorization", bearer); code != want {
			t.Errorf("%v: %d, want %d: %s", call, code, want, body)
		}
	}
	var described struct {
		OpenAPI string
		Paths   map[string]any
	}
	_, body := s.get(http.DefaultClient, "GET", "/api/v1/openapi.json", "Authorization", bearer)
	if err := json.Unmarshal([]byte(body), &described); err != nil || !strings.HasPrefix(described.OpenAPI, "3.1") || len(described.Paths) < 30 {
		t.Error(err, described.OpenAPI, len(described.Paths))
	}
	for want, headers := range map[int][]string{http.StatusOK: nil, http.StatusUnauthorized: {"X-Forwarded-For", "192.0.2.1"}, http.StatusForbidden: {"X-Forwarded-For", "192.0.2.1", "Authorization", bearer}} {
		if code, _ := s.get(http.DefaultClient, "GET", "/metrics", headers...); code != want {
			t.Errorf("metrics with %v: %d, want %d", headers, code, want)
		}
	}
}

// erasure takes a home's data along and leaves nothing.
func (s *served) erasure(t *testing.T, who map[string]*http.Client) {
	file := filepath.Join(t.TempDir(), "mill-1.zip")
	s.cmd("homes", "export", "mill-1", file)
	if b, err := os.ReadFile(file); err != nil || !bytes.HasPrefix(b, []byte("PK")) {
		t.Error("no zip", err)
	}
	if code, _, errOut := command(t, "homes", "erase", "mill-1", "--config", s.config); code != exitUsage || !strings.Contains(errOut, "--really") {
		t.Error(code, errOut)
	}
	if code, _, errOut := command(t, "homes", "erase", "mill-1", "--really", "--config", s.config); code != exitDone || !strings.Contains(errOut, "still lists mill-1") {
		t.Error(code, errOut)
	}
	if code, _ := s.get(who["manager"], "GET", "/homes/mill-1"); code != http.StatusNotFound {
		t.Error("it is still there:", code)
	}
	if list := s.cmd("devices", "list"); strings.Contains(list, "mill-1") {
		t.Error(list)
	}
}

// Commands say what is wrong in words for whoever runs an installation.
func TestAccountCommandsSayWhatIsWrong(t *testing.T) {
	config := writeFile(t, "brinebell.yaml", "broker: {listen: \"127.0.0.1:0\"}\n")
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"people", "add", "Ann", "ann", "--role", "operator"}, "e-mail address"},
		{[]string{"people", "add", "Ann", "ann@example.org", "--role", "manager"}, "belongs to a firm"},
		{[]string{"people", "add", "Ann", "ann@example.org", "--role", "manager", "--firm", "west"}, "west"},
		{[]string{"people", "add", "Ann", "ann@example.org", "--role", "household", "--firm", "west", "--home", "x"}, `no home "x"`},
		{[]string{"people", "link", "nobody@example.org"}, "nobody@example.org: there is none"},
		{[]string{"firm", "add", "North", "x"}, "small letters"},
		{[]string{"devices", "add", "nowhere", "meter"}, "nowhere/meter: there is none"},
		{[]string{"devices", "mosquitto", "--acl", "a", "--passwords", "b"}, "broker.username"},
		{[]string{"homes", "list"}, "does not run"},
		{[]string{"people", "list"}, ""},
	} {
		code, _, errOut := command(t, append(c.args, "--config", config)...)
		if (code == exitDone) != (c.want == "") || !strings.Contains(errOut, c.want) || code == exitFail {
			t.Errorf("%v: %d %s", c.args, code, errOut)
		}
	}
	for _, text := range []string{"accounts: {open: true}\nlisten: 0.0.0.0:80\n", "accounts: {proxies: [x]}\n", "broker: {listen: \"0.0.0.0:1\", anonymous: true}\n", "broker: {tls: {certificate: a}}\n", "broker: {tls: {listen: \":1\"}}\n"} {
		if !strings.Contains(text, "broker") {
			text += "broker: {listen: \"127.0.0.1:0\"}\n"
		}
		if _, err := readConfig(writeFile(t, "c.yaml", text)); err == nil {
			t.Errorf("taken: %s", text)
		}
	}
}
