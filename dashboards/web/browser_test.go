package web

import (
	"context"
	"fmt"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// browserBound ends a browser that hangs; a page takes well under a second, on a
// busy machine some.
const browserBound = 5 * time.Minute

// openBrowser is a headless Chromium with one tab, or a skip that says why.
func openBrowser(t *testing.T) context.Context {
	t.Helper()
	path := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if found, err := exec.LookPath(name); err == nil {
			path = found
			break
		}
	}
	if path == "" {
		t.Skip("no Chromium here: the pages were not opened in a browser")
	}
	if testing.Short() {
		t.Skip("short: the pages were not opened in a browser")
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.NoFirstRun, chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true), chromedp.UserDataDir(t.TempDir()))
	ctx, stop := context.WithTimeout(context.Background(), browserBound)
	t.Cleanup(stop)
	ctx, stop = chromedp.NewExecAllocator(ctx, options...)
	t.Cleanup(stop)
	ctx, stop = chromedp.NewContext(ctx)
	t.Cleanup(stop)
	return ctx
}

// complaints are what the browser's console said against a page.
type complaints struct {
	mu   sync.Mutex // guards list
	list []string
}

func (c *complaints) hear(event any) {
	text := ""
	switch e := event.(type) {
	case *runtime.EventExceptionThrown:
		text = e.ExceptionDetails.Text
		if thrown := e.ExceptionDetails.Exception; thrown != nil {
			text += " " + thrown.Description
		}
	case *log.EventEntryAdded:
		if e.Entry.Level == log.EntryLevelError || e.Entry.Level == log.EntryLevelWarning {
			text = e.Entry.Text + " " + e.Entry.URL
		}
	}
	if text != "" {
		c.mu.Lock()
		c.list = append(c.list, text)
		c.mu.Unlock()
	}
}

func (c *complaints) take() []string {
	c.mu.Lock()
	defer c.mu.Unlock()
	list := c.list
	c.list = nil
	return list
}

// look is one way of looking at the pages.
type look struct {
	name   string
	width  int64
	scheme string
	few    bool // only the pages that fill their width
}

// looks are every page on a phone by day and on a desk by night, and the rest of
// the ways for the pages that fill their width.
var looks = []look{
	{"phone-light", 390, "light", false}, {"desk-dark", 1280, "dark", false},
	{"phone-dark", 390, "dark", true}, {"desk-light", 1280, "light", true}, {"narrow-light", 320, "light", true}, {"wide-light", 1600, "light", true},
}

func (l look) set(ctx context.Context) error {
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(l.width, 900)); err != nil {
		return err
	}
	_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: l.scheme}, {Name: "prefers-reduced-motion", Value: "reduce"}}})
	return err
}

// everyPage names one page of each kind in the fake town.
func everyPage(f *fakeTown) map[string]string {
	records := f.records["mill-lane-4"]
	return map[string]string{
		"town": "/", "leak": "/homes/ferry-steps-2", "salt": "/homes/mill-lane-4", "drain": "/homes/quarry-road-11",
		"quiet": "/homes/orchard-row-7", "total": "/homes/lime-kiln-cottage", "unheard": "/homes/harbour-view-1",
		"case": caseLink("ferry-steps-2", f.alerts[2].ID), "salt-case": caseLink("mill-lane-4", f.alerts[0].ID), "sheet": caseLink("mill-lane-4", f.alerts[0].ID) + "/sheet",
		"round": "/salt", "fleet": "/fleet", "reading": "/reading", "search": "/?q=lane&level=week",
		"regenerations": "/homes/mill-lane-4/regenerations",
		"regeneration":  "/homes/mill-lane-4/regenerations/" + records[len(records)-1].Start.UTC().Format(startLayout),
	}
}

// everyFullPage adds those that need more than a source.
func everyFullPage(f *fakeTown) map[string]string {
	pages := everyPage(f)
	pages["tell"], pages["refused"], pages["replay"] = "/homes/mill-lane-4/tell", "/refused", "/replay"
	pages["replayed"] = "/replay?home=ferry-steps-2&from=2026-03-14&to=2026-03-17&watch=NightLeak"
	return pages
}

// TestPagesInABrowser opens every page at each width and in each scheme. Set
// BRINEBELL_SCREENSHOTS to a folder to keep what it saw.
func TestPagesInABrowser(t *testing.T) {
	town := newFakeTown()
	options := fullOptions(town)
	options.CauseText = nil // the real texts, which are longer
	s, err := New(options)
	must(t, err)
	server := httptest.NewServer(s.Handler())
	t.Cleanup(server.Close)
	t.Cleanup(s.Close)
	ctx := openBrowser(t)
	heard := &complaints{}
	if err := chromedp.Listen(ctx, heard.hear); err != nil {
		t.Fatal(err)
	}
	for _, l := range looks {
		for name, path := range everyFullPage(town) {
			if l.few && !slices.Contains([]string{"town", "salt", "case", "regenerations"}, name) {
				continue
			}
			t.Run(l.name+"/"+name, func(t *testing.T) { checkPage(t, ctx, l, name, server.URL+path, heard) })
		}
	}
}

// checkPage opens all that folds, then measures. Target size: WCAG 2.2, success
// criterion 2.5.8, asks for 24 by 24 CSS px, links in a sentence excepted.
func checkPage(t *testing.T, ctx context.Context, l look, name, address string, heard *complaints) {
	must(t, l.set(ctx))
	must(t, chromedp.Do(ctx, chromedp.Navigate(address), chromedp.WaitVisible("main h1")))
	must(t, keep(ctx, l, name))
	evaluate[any](t, ctx, `document.querySelectorAll("details").forEach(d => d.open = true)`)
	overflow := evaluate[[]string](t, ctx, overflowing)
	small := evaluate[[]string](t, ctx, smallTargets)
	background := evaluate[string](t, ctx, `getComputedStyle(document.body).backgroundColor`)
	if len(overflow) > 0 {
		t.Errorf("wider than %d px: %s", l.width, strings.Join(overflow, "; "))
	}
	if len(small) > 0 {
		t.Errorf("too small to hit: %s", strings.Join(small, "; "))
	}
	if c := heard.take(); len(c) > 0 {
		t.Errorf("the console complains: %s", strings.Join(c, "; "))
	}
	if short := evaluate[[]string](t, ctx, contrastScript); len(short) > 0 {
		t.Errorf("too little contrast: %s", strings.Join(short, "; "))
	}
	if bare := evaluate[[]string](t, ctx, numbersScript); len(bare) > 0 {
		t.Errorf("pictures without their numbers: %s", strings.Join(bare, "; "))
	}
	if l.few {
		return
	}
	if without := nameless(t, ctx); len(without) > 0 {
		t.Errorf("without a name: %s", strings.Join(without, "; "))
	}
	if l.scheme == "light" && slices.Contains([]string{"town", "leak", "case", "tell", "replay"}, name) {
		must(t, chromedp.Do(ctx, chromedp.Navigate(address), chromedp.WaitVisible("main h1")))
		checkFocus(t, ctx)
	}
	if want := schemeBackground(t, l.scheme); background != want {
		t.Errorf("background is %s in the %s scheme, want %s", background, l.scheme, want)
	}
}

const overflowing = `(() => {
	const room = document.documentElement.clientWidth;
	if (document.documentElement.scrollWidth <= room) return [];
	return [...document.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > room + 1 && !e.closest(".scroll"))
		.slice(0, 3).map(e => e.tagName + "." + e.getAttribute("class") + " " + (e.textContent || "").trim().slice(0, 40));
})()`

const smallTargets = `[...document.querySelectorAll("a, button, summary")]
	.filter(e => !e.closest("p, td, th, .skip, .home") && !e.matches(".skip"))
	.filter(e => { const r = e.getBoundingClientRect(); return r.width < 24 || r.height < 24 })
	.map(e => e.tagName + " " + e.textContent.trim())`

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// evaluate is the value of an expression in the page.
func evaluate[T any](t *testing.T, ctx context.Context, expression string) T {
	t.Helper()
	value, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression))
	must(t, err)
	return value
}

// keep saves a picture of the whole page when asked for.
func keep(ctx context.Context, l look, name string) error {
	folder := os.Getenv("BRINEBELL_SCREENSHOTS")
	if folder == "" {
		return nil
	}
	picture, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	if err != nil {
		return fmt.Errorf("picture of %s: %w", name, err)
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(folder, name+"-"+l.name+".png"), picture, 0o644)
}

// TestLivePage holds that a page takes in what changed without being loaded
// again, and keeps what the reader has opened.
func TestLivePage(t *testing.T) {
	town := newFakeTown()
	s := newServer(t, town)
	server := httptest.NewServer(s.Handler())
	t.Cleanup(server.Close)
	t.Cleanup(s.Close)
	ctx := openBrowser(t)
	must(t, chromedp.Do(ctx, chromedp.Navigate(server.URL+"/homes/orchard-row-7"), chromedp.WaitVisible("#live button")))
	evaluate[any](t, ctx, `document.querySelector("#water-numbers").open = true`)
	town.rename("orchard-row-7", "Orchard House")
	town.hint()
	_, err := chromedp.Run(ctx, chromedp.Poll[bool](`document.querySelector(".who").textContent.includes("Orchard House")`))
	must(t, err)
	if !evaluate[bool](t, ctx, `document.querySelector("#water-numbers").open`) {
		t.Error("the table that the reader had opened is closed")
	}
	if title := evaluate[string](t, ctx, `document.title`); !strings.Contains(title, "Orchard House") {
		t.Errorf("the tab still says %q", title)
	}
}

// TestALivePageLeavesWhatIsWritten holds that what somebody writes is not taken
// away by a change, and that the change comes once it is sent off.
func TestALivePageLeavesWhatIsWritten(t *testing.T) {
	town := newFakeTown()
	options := fullOptions(town)
	options.MinInterval = time.Millisecond
	s, err := New(options)
	must(t, err)
	server := httptest.NewServer(s.Handler())
	t.Cleanup(server.Close)
	t.Cleanup(s.Close)
	ctx := openBrowser(t)
	must(t, chromedp.Do(ctx, chromedp.Navigate(server.URL+caseLink("ferry-steps-2", town.alerts[2].ID)), chromedp.WaitVisible("#live button")))
	evaluate[any](t, ctx, `document.querySelector("#act-note").open = true; document.querySelector("#act-note textarea").value = "Half a"; window.asked = 0;
		window.fetch = ((f) => (...a) => { window.asked++; return f(...a) })(window.fetch)`)
	town.rename("ferry-steps-2", "Ferry House")
	// Another listener of the same page shows that hints arrive.
	evaluate[any](t, ctx, `window.told = 0; window.listening = false; { const s = new EventSource("/changes");
		s.addEventListener("open", () => window.listening = true); s.addEventListener("change", () => window.told++) }`)
	_, err = chromedp.Run(ctx, chromedp.Poll[bool](`window.listening`))
	must(t, err)
	town.hint()
	_, err = chromedp.Run(ctx, chromedp.Poll[bool](`window.told > 0`))
	must(t, err)
	if got := evaluate[string](t, ctx, `document.querySelector("#act-note textarea")?.value + " " + window.asked`); got != "Half a 0" {
		t.Errorf("what was written, and pages asked for: %q", got)
	}
	evaluate[any](t, ctx, `document.querySelector("#act-note textarea").value = ""`)
	town.hint()
	_, err = chromedp.Run(ctx, chromedp.Poll[bool](`document.querySelector(".who").textContent.includes("Ferry House")`))
	must(t, err)
}
