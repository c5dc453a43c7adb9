package telling

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"

	"brinebell/collector/casebook"
	"brinebell/collector/state"
	"brinebell/detect"
)

// The kill tests run this test binary again as the process that is killed, when
// this variable says so.
const roleVariable = "BRINEBELL_TEST_ROLE"

// maxLife ends a process that its test has left behind.
const maxLife = time.Minute

func TestMain(m *testing.M) {
	if os.Getenv(roleVariable) == "" {
		goleak.VerifyTestMain(m)
		return
	}
	time.AfterFunc(maxLife, func() { os.Exit(2) })
	if err := live(); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// live is the process that is killed. It is told the time: each line is a minute
// after noon, at which home h<minute> raises an alert if the line says so; it
// answers when all that is due then is done.
func live() error {
	now := noon
	clock := func() time.Time { return now }
	ctx := context.Background()
	db, err := state.Open(ctx, os.Getenv("DB"), clock)
	if err != nil {
		return err
	}
	home := func(id string) (detect.Home, bool) { return detect.DefaultHome(id, time.UTC), true }
	book, err := casebook.New(casebook.Options{State: db, Clock: clock, Now: func(string) time.Time { return now }, Home: home, FirmOf: func(string) string { return "saltmarsh" }})
	if err != nil {
		return err
	}
	port, err := strconv.Atoi(os.Getenv("PORT"))
	if err != nil {
		return err
	}
	t, err := New(Options{State: db, Cases: book, Home: home, People: &townsfolk{people: crew()}, Clock: clock, BaseURL: "https://pages.test",
		Mail: MailOptions{Host: "127.0.0.1", Port: port, From: "bell@pages.test", TLS: PlainTCP}, Logger: slog.New(slog.DiscardHandler)})
	if err != nil {
		return err
	}
	for lines := bufio.NewScanner(os.Stdin); lines.Scan(); {
		minute, raise, _ := strings.Cut(lines.Text(), " ")
		n, err := strconv.Atoi(minute)
		if err != nil {
			return err
		}
		now = noon.Add(time.Duration(n) * time.Minute)
		if raise != "" {
			_, err = db.Save(ctx, state.Progress{Home: "h" + minute, Alerts: []detect.Alert{alertOf(n)}})
		}
		if err := errors.Join(err, book.Take(ctx), t.Step(ctx)); err != nil {
			return err
		}
		fmt.Println("done", minute)
	}
	return nil
}

// alertOf is that of a minute; every third is to be acted on now.
func alertOf(minute int) detect.Alert {
	kind, severity := detect.SaltLow, detect.ThisWeek
	if minute%3 == 0 {
		kind, severity = detect.Burst, detect.ActNow
	}
	return raised("h"+strconv.Itoa(minute), kind, severity, noon.Add(time.Duration(minute)*time.Minute))
}

// process is one life of the process.
type process struct {
	command *exec.Cmd
	in      io.WriteCloser
	answers *bufio.Scanner
}

func start(t *testing.T, db string, port int) *process {
	t.Helper()
	p := &process{command: exec.Command(os.Args[0])}
	p.command.Env = append(os.Environ(), roleVariable+"=teller", "DB="+db, "PORT="+strconv.Itoa(port))
	p.command.Stderr = os.Stderr
	var err error
	if p.in, err = p.command.StdinPipe(); err != nil {
		t.Fatal(err)
	}
	out, err := p.command.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	p.answers = bufio.NewScanner(out)
	if err := p.command.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { p.kill() })
	return p
}

// say tells the process a minute and waits until it has done what is due.
func (p *process) say(t *testing.T, line string) {
	t.Helper()
	if _, err := io.WriteString(p.in, line+"\n"); err != nil {
		t.Fatal(err)
	}
	if !p.answers.Scan() {
		t.Fatal("the process has ended")
	}
}

func (p *process) kill() {
	_ = p.command.Process.Kill() // it may be gone
	_ = p.command.Wait()
}

// closedPort is one at which nobody listens.
func closedPort(t *testing.T) int {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().(*net.TCPAddr).Port
}

// The mail server is down for an hour, and the process is killed twice meanwhile:
// every message comes, none twice.
func TestMailServerDownForAnHourAndKilledTwice(t *testing.T) {
	db, port := filepath.Join(t.TempDir(), "state.db"), closedPort(t)
	p := start(t, db, port)
	for minute := range 60 {
		if minute == 20 || minute == 40 {
			// In the middle of its work: it has been told and has not answered.
			if _, err := fmt.Fprintf(p.in, "%d raise\n", minute); err != nil {
				t.Fatal(err)
			}
			p.kill()
			p = start(t, db, port)
		}
		p.say(t, strconv.Itoa(minute)+" raise")
	}
	box := openMailbox(t, "127.0.0.1:"+strconv.Itoa(port))
	for minute := 60; minute < 68; minute++ { // before anything is told again
		p.say(t, strconv.Itoa(minute))
	}
	if _, again := said(t, box); again != 0 {
		t.Errorf("%d mails came twice", again)
	}
	holdAll(t, box, 60)
}

// Killed at any point while the mail server takes mails: every message comes. A
// kill between the server's word and our noting it sends one again, under the
// same number.
func TestKilledWhileMailsGoOut(t *testing.T) {
	db, box := filepath.Join(t.TempDir(), "state.db"), openMailbox(t, "127.0.0.1:0")
	p := start(t, db, box.port())
	kills := 0
	for minute := range 30 {
		if minute%6 == 5 {
			if _, err := fmt.Fprintf(p.in, "%d raise\n", minute); err != nil {
				t.Fatal(err)
			}
			box.await(len(box.all()) + 1) // in the middle of its mails
			p.kill()
			kills++
			p = start(t, db, box.port())
		}
		p.say(t, strconv.Itoa(minute)+" raise")
	}
	for minute := 30; minute < 120; minute += 20 { // limits of an hour pass
		p.say(t, strconv.Itoa(minute))
	}
	if _, again := said(t, box); again > 2*kills {
		t.Errorf("%d mails came twice after %d kills with two people", again, kills)
	}
	holdAll(t, box, 30)
}

// await waits until so many mails have come, a moment at most: there may be none
// to wait for.
func (m *mailbox) await(n int) {
	tick := time.NewTicker(time.Millisecond)
	defer tick.Stop()
	for range 50 {
		if len(m.all()) >= n {
			return
		}
		<-tick.C
	}
}

// said counts, by recipient and alert, in how many mails of different number it
// was told for the first time, and the mails whose number came before.
func said(t *testing.T, box *mailbox) (told map[string]int, again int) {
	t.Helper()
	told = map[string]int{}
	seen := map[string]bool{}
	for _, mail := range box.all() {
		m, parts, _ := read(t, mail.data)
		if strings.Contains(subject(t, m), "Nobody has taken this yet") {
			continue
		}
		number := m.Header.Get("Message-ID")
		if seen[number] {
			again++
			continue
		}
		seen[number] = true
		for _, line := range strings.Fields(string(parts["text/plain"])) {
			if id, ok := strings.CutPrefix(line, "https://pages.test/homes/"); ok {
				told[mail.to[0]+" "+id]++
			}
		}
	}
	return told, again
}

// holdAll holds that each of two people was told of each alert once.
func holdAll(t *testing.T, box *mailbox, alerts int) {
	t.Helper()
	told, _ := said(t, box)
	for _, to := range []string{"tom@firm.test", "tess@firm.test"} {
		for minute := range alerts {
			a := alertOf(minute)
			if n := told[to+" "+a.Home+"/cases/"+a.ID]; n != 1 {
				t.Errorf("%s was told %d times of %s at %s", to, n, a.Kind, a.Home)
			}
		}
	}
	if len(told) != 2*alerts {
		t.Errorf("%d tellings, want %d", len(told), 2*alerts)
	}
}
