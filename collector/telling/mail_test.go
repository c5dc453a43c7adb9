package telling

import (
	"bytes"
	"context"
	"encoding/base64"
	"errors"
	"image"
	"image/color"
	"image/png"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net/mail"
	"strings"
	"testing"

	"brinebell/collector/casebook"
	"brinebell/detect"
	"brinebell/detect/care"
)

// painter draws one grey dot.
type painter struct{ fails bool }

func (p painter) Evidence(context.Context, detect.Alert) ([]byte, string, error) {
	if p.fails {
		return nil, "", errors.New("no readings")
	}
	dot := image.NewGray(image.Rect(0, 0, 1, 1))
	dot.Set(0, 0, color.Gray{Y: 128})
	var b bytes.Buffer
	err := png.Encode(&b, dot)
	return b.Bytes(), "Flow of two days <never> zero", err
}

// read takes a mail apart into its parts by media type, and the types that hold
// others, in order.
func read(t *testing.T, data []byte) (m *mail.Message, parts map[string][]byte, around []string) {
	t.Helper()
	m, err := mail.ReadMessage(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	parts = map[string][]byte{}
	var open func(kind, encoding string, body io.Reader)
	open = func(kind, encoding string, body io.Reader) {
		media, params, err := mime.ParseMediaType(kind)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.HasPrefix(media, "multipart/") {
			parts[media] = decode(t, encoding, body)
			return
		}
		around = append(around, media)
		for r := multipart.NewReader(body, params["boundary"]); ; {
			p, err := r.NextRawPart()
			if errors.Is(err, io.EOF) {
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			open(p.Header.Get("Content-Type"), p.Header.Get("Content-Transfer-Encoding"), p)
		}
	}
	open(m.Header.Get("Content-Type"), m.Header.Get("Content-Transfer-Encoding"), m.Body)
	return m, parts, around
}

func decode(t *testing.T, encoding string, r io.Reader) []byte {
	t.Helper()
	switch strings.ToLower(encoding) {
	case "base64":
		r = base64.NewDecoder(base64.StdEncoding, r)
	case "quoted-printable":
		r = quotedprintable.NewReader(r)
	}
	b, err := io.ReadAll(r)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func subject(t *testing.T, m *mail.Message) string {
	t.Helper()
	s, err := new(mime.WordDecoder).DecodeHeader(m.Header.Get("Subject"))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestMailSaysWhatIsWrongAndWhatToDo(t *testing.T) {
	s := newScene(t, household("h1", mailTo("ann@home.test")), technician("t1", mailTo("tom@firm.test")))
	box := openMailbox(t, "127.0.0.1:0")
	s.opts.Painter = painter{}
	s.names["a"] = "4 Mill Lane"
	s.mail(box.port())
	leak := raised("a", detect.NightLeak, detect.ActNow, noon)
	s.save(leak)
	mails := box.all()
	if len(mails) != 2 {
		t.Fatalf("%d mails, want two", len(mails))
	}
	for _, got := range mails {
		m, parts, around := read(t, got.data)
		text, html := string(parts["text/plain"]), string(parts["text/html"])
		if subject(t, m) != "Act now: water never stops at night – 4 Mill Lane" || m.Header.Get("Auto-Submitted") != "auto-generated" || m.Header.Get("Message-ID") == "" {
			t.Errorf("%v", m.Header)
		}
		if first, _, _ := strings.Cut(text, "\n"); strings.TrimSpace(first) != leak.Summary {
			t.Errorf("the first line is %q, want what is wrong", first)
		}
		do := "food colouring"
		if got.to[0] == "tom@firm.test" {
			do = "What settles it:"
		}
		link := "https://pages.test/homes/a/cases/" + leak.ID
		for _, want := range []string{"What to do now:", do, "Be careful:", "licensed people", "How sure:", "72 in 100", "EUR a day", link, "no proof that nothing leaks"} {
			if !strings.Contains(strings.ReplaceAll(text, "\r\n", "\n"), want) {
				t.Errorf("%s: the text lacks %q:\n%s", got.to, want, text)
			}
		}
		if !strings.Contains(html, `src="cid:evidence"`) || !strings.Contains(html, "&lt;never&gt;") || !strings.Contains(html, link) {
			t.Errorf("%s", html)
		}
		if _, err := png.Decode(bytes.NewReader(parts["image/png"])); err != nil || strings.Join(around, " ") != "multipart/related multipart/alternative" {
			t.Errorf("picture %v in %v", err, around)
		}
	}
}

func TestMailGoesOutWithoutItsPicture(t *testing.T) {
	s := newScene(t, household("h1", mailTo("ann@home.test")))
	box := openMailbox(t, "127.0.0.1:0")
	s.opts.Painter = painter{fails: true}
	s.mail(box.port())
	s.save(raised("a", detect.NightLeak, detect.ActNow, noon))
	if mails := box.all(); len(mails) != 1 || bytes.Contains(mails[0].data, []byte("cid:")) {
		t.Errorf("%d mails", len(mails))
	}
}

// Whatever a home is called or a person writes, a mail has the headers it is
// meant to have and goes to whom it is meant for.
func TestNoNameCanAddAHeader(t *testing.T) {
	evil := "x\r\nBcc: eve@evil.test\r\nSubject: y\r\n\r\n<script>alert(1)</script>"
	h := household("h1", mailTo("ann@home.test"))
	s := newScene(t, h, technician("t1", mailTo("tom@firm.test")), technician("t2", mailTo("tom@firm.test\r\nRCPT TO:<eve@evil.test>")), technician("t3", mailTo("a@b.test, eve@evil.test")))
	box := openMailbox(t, "127.0.0.1:0")
	s.names["a"] = evil
	s.mail(box.port())
	leak := raised("a", detect.NightLeak, detect.ActNow, noon)
	leak.Summary = evil
	s.save(leak)
	s.act(h, leak, doing(care.AskFirm, evil))
	mails := box.all()
	if len(mails) != 3 {
		t.Errorf("%d mails, want three", len(mails))
	}
	for _, got := range mails {
		m, parts, _ := read(t, got.data)
		if len(m.Header["Bcc"]) != 0 || len(m.Header["Subject"]) != 1 || len(m.Header["To"]) != 1 || strings.Contains(m.Header.Get("To"), "evil") {
			t.Errorf("%v", m.Header)
		}
		if len(got.to) != 1 || strings.Contains(got.to[0], "evil") {
			t.Errorf("it went to %v", got.to)
		}
		if strings.ContainsAny(subject(t, m), "\r\n") || strings.Contains(string(parts["text/html"]), "<script>") {
			t.Errorf("%q\n%s", subject(t, m), parts["text/html"])
		}
	}
	if n := s.count(`SELECT count(*) FROM deliveries WHERE outcome = 'refused'`); n != 4 {
		t.Errorf("%d deliveries to addresses that cannot be were refused, want 4", n)
	}
}

func TestRefusedAddressAndThoseWhoLeft(t *testing.T) {
	s := newScene(t, household("h1", mailTo("ann@home.test")), technician("t1", mailTo("tom@firm.test")), technician("t2", mailTo("tess@firm.test")))
	box := openMailbox(t, "127.0.0.1:0")
	box.refuse["ann@home.test"], box.refuse["tom@firm.test"] = 550, 451
	s.mail(box.port())
	s.save(raised("a", detect.Burst, detect.ActNow, noon))
	for outcome, want := range map[string]int{refused: 1, delivered: 1, "": 1} {
		if n := s.count(`SELECT count(*) FROM deliveries WHERE outcome = ?`, outcome); n != want {
			t.Errorf("%d %q, want %d", n, outcome, want)
		}
	}
	s.folk.people = s.folk.people[:1]
	s.now = s.now.Add(LastUrgentRetry)
	s.step()
	if n := s.count(`SELECT count(*) FROM deliveries WHERE outcome = ?`, gone); n != 1 {
		t.Errorf("%d gone, want who left while a message waited", n)
	}
	if strings.Contains(s.log.String(), ".test") {
		t.Errorf("an address is in the log:\n%s", s.log)
	}
}

func TestGivenUpAfterDays(t *testing.T) {
	s := newScene(t, technician("t1", mailTo("tom@firm.test")))
	box := openMailbox(t, "127.0.0.1:0")
	box.refuse["tom@firm.test"] = 451
	s.mail(box.port())
	s.save(raised("a", detect.SaltLow, detect.Plan, noon))
	for end := noon.Add(GiveUp + LastRetry + LastRetry); s.now.Before(end); s.now = s.now.Add(LastRetry) {
		s.step()
	}
	attempts := s.count(`SELECT attempts FROM deliveries`)
	if outcome := s.count(`SELECT count(*) FROM deliveries WHERE outcome = ?`, expired); outcome != 1 || attempts < 100 || attempts > 160 {
		t.Errorf("%d expired after %d attempts, want one after one each half hour or so", outcome, attempts)
	}
}

func doing(act care.Act, text string) casebook.Doing { return casebook.Doing{Act: act, Text: text} }
