package web

import (
	"context"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
)

// traveller is somebody in a browser at a town of their own.
type traveller struct {
	*testing.T
	ctx     context.Context
	address string
	town    *fakeTown
	book    *fakeBook
	replay  *fakeReplayer
}

// goTo opens a page.
func (tr traveller) goTo(path string) {
	tr.Helper()
	must(tr.T, chromedp.Do(tr.ctx, chromedp.Navigate(tr.address+path), chromedp.WaitVisible("main h1")))
}

// press clicks what the selector finds and waits for the page that it leads to,
// which is another document whether or not its address is.
func (tr traveller) press(selector string) {
	tr.Helper()
	_, err := chromedp.RunResponse(tr.ctx, chromedp.Click(selector))
	must(tr.T, err)
	must(tr.T, chromedp.Do(tr.ctx, chromedp.WaitVisible("main h1")))
}

// choose sets a radio, a date or a text without leaving the page.
func (tr traveller) choose(selector, value string) {
	tr.Helper()
	evaluate[any](tr.T, tr.ctx, `(() => { const e = document.querySelector('`+selector+`'); if (e.type === "radio") e.checked = true; else e.value = '`+value+`' })()`)
}

// reads checks that the page says all of it.
func (tr traveller) reads(sentences ...string) {
	tr.Helper()
	all := strings.Join(strings.Fields(strings.ReplaceAll(evaluate[string](tr.T, tr.ctx, `document.querySelector("main").innerText`), "\u00a0", " ")), " ")
	for _, want := range sentences {
		if !strings.Contains(all, want) {
			tr.Errorf("the page does not say %q: %.300s", want, all)
		}
	}
}

// journeys are what people come for.
func journeys() map[string]func(traveller) {
	return map[string]func(traveller){
		"a household answers a question in one tap": func(tr traveller) {
			tr.goTo("/homes/ferry-steps-2")
			tr.reads("What to do now", "A toilet that keeps refilling.", "Is something meant to run day and night")
			tr.press(`.ask button[value="no"]`)
			tr.reads("You answered: No")
		},
		"a household reports what it notices and a strip": func(tr traveller) {
			tr.goTo("/homes/mill-lane-4")
			tr.press(`a[href$="/tell"]`)
			tr.choose(`input[name="hard_again"][value="yes"]`, "")
			tr.choose(`input[name="smell"][value="no"]`, "")
			tr.press(`form[action$="/symptoms"] button`)
			tr.reads("Thank you.", "the water is hard again; not so: the water smells")
			tr.choose(`input[name="hardness"]`, "35,5")
			tr.press(`form[action$="/hardness"] button`)
			tr.reads("Cold tap: 35.5 mg/L")
		},
		"a household is away": func(tr traveller) {
			tr.goTo("/homes/orchard-row-7")
			tr.choose(`input[name="from"]`, "2026-03-20")
			tr.choose(`input[name="to"]`, "2026-03-27")
			tr.press(`form[action$="/away"] button`)
			if len(tr.book.away) != 1 || tr.book.away[0].To.Sub(tr.book.away[0].From).Hours() != 8*24 {
				tr.Errorf("told: %v", tr.book.away)
			}
		},
		"a firm finds homes and keeps the search": func(tr traveller) {
			tr.goTo("/")
			tr.choose(`input[name="q"]`, "ferry")
			tr.press(`form.search button`)
			tr.reads("1 home found.", "2 Ferry Steps")
			tr.choose(`input[name="name"]`, "The steps")
			tr.press(`.found form button`)
			tr.goTo("/")
			tr.press(`.kept a`)
			tr.reads("1 home found.")
			tr.press(`.kept button`)
			if len(tr.book.kept) != 0 {
				tr.Errorf("still kept: %v", tr.book.kept)
			}
		},
		"a case goes from open to repaired": func(tr traveller) {
			tr.goTo("/")
			tr.press(`a[href="/homes/ferry-steps-2"]`)
			tr.press(`a[href*="/cases/"]`)
			tr.reads("nobody has it yet", "What a day of waiting costs", "The evidence", "The next check")
			tr.press(`#act-acknowledged button`)
			tr.reads("somebody has it", "Taken")
			evaluate[any](tr.T, tr.ctx, `document.querySelector("#act-repaired").open = true`)
			tr.choose(`#act-repaired select`, "flapper_leak")
			tr.choose(`#act-repaired textarea`, "New seal.")
			tr.press(`#act-repaired button`)
			tr.reads("repaired, being watched", "A toilet that keeps refilling: New seal.", "Before and after the repair")
		},
		"a technician prints the visit sheet": func(tr traveller) {
			tr.goTo(caseLink("mill-lane-4", tr.town.alerts[0].ID))
			tr.press(`a[href$="/sheet"]`)
			tr.reads("What it most likely is", "The injector is clogged", "Checks, in this order", "Parts to take along", "injector nozzle and throat", "Take care", "As it is set", "Cause found:")
		},
		"the salt round looks ahead and is taken along": func(tr traveller) {
			tr.goTo("/salt")
			tr.reads("4 homes may run out of salt in the next 4 weeks", "41 kg")
			tr.choose(`select[name="weeks"]`, "1")
			tr.press(`form.search button`)
			tr.reads("No home is known to run out of salt in the next 1 week.")
			tr.goTo("/salt?weeks=8")
			if href := evaluate[string](tr.T, tr.ctx, `document.querySelector('a[href^="/salt.csv"]').getAttribute("href")`); href != "/salt.csv?weeks=8" {
				tr.Error(href)
			}
		},
		"somebody reads German and gallons": func(tr traveller) {
			tr.goTo("/homes/ferry-steps-2")
			tr.press(`a[href="/reading"]`)
			tr.choose(`input[value="de"]`, "")
			tr.choose(`input[value="us"]`, "")
			tr.press(`main form button`)
			tr.goTo("/homes/ferry-steps-2")
			tr.reads("Was jetzt zu tun ist", "0,082 gal/min", "Weiches Wasser übrig")
		},
		"a developer replays and looks inside": func(tr traveller) {
			tr.goTo("/replay?home=ferry-steps-2&from=2026-03-14&to=2026-03-17")
			tr.choose(`form[method="get"] select[name="watch"]`, "NightLeak")
			tr.press(`form[method="get"] button`)
			tr.reads("4,320 readings of 2 Ferry Steps gave 1 alert.", "Inside NightLeak", "Rate.Sum", "x.csv:3: no number")
			file := filepath.Join(tr.TempDir(), "a.csv")
			must(tr.T, os.WriteFile(file, []byte("time,home,signal,value\n"), 0o600))
			must(tr.T, chromedp.Do(tr.ctx, chromedp.SetUploadFiles(`input[type="file"]`, []string{file})))
			tr.press(`form[method="post"] button`)
			tr.reads("4,320 readings")
			if tr.replay.asked.Name != "a.csv" {
				tr.Errorf("asked for %+v", tr.replay.asked)
			}
		},
	}
}

// TestJourneys makes every journey on a phone and at a desk, by day and by night,
// with scripts and without.
func TestJourneys(t *testing.T) {
	ctx := openBrowser(t)
	heard := &complaints{}
	must(t, chromedp.Listen(ctx, heard.hear))
	for _, way := range []struct {
		look    look
		scripts bool
	}{{look{"phone-light", 390, "light", false}, false}, {look{"desk-dark", 1280, "dark", false}, true}, {look{"phone-dark", 390, "dark", false}, true}, {look{"desk-light", 1280, "light", false}, false}} {
		name := way.look.name + map[bool]string{true: "-with-scripts", false: "-without"}[way.scripts]
		must(t, way.look.set(ctx))
		_, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: !way.scripts})
		must(t, err)
		for journey, travel := range journeys() {
			t.Run(name+"/"+journey, func(t *testing.T) {
				tr := newTraveller(t, ctx)
				travel(tr)
				if c := heard.take(); len(c) > 0 {
					t.Errorf("the console complains: %s", strings.Join(c, "; "))
				}
			})
		}
	}
}

func newTraveller(t *testing.T, ctx context.Context) traveller {
	t.Helper()
	town := newFakeTown()
	options := fullOptions(town)
	options.CauseText = nil
	s, err := New(options)
	must(t, err)
	server := httptest.NewServer(s.Handler())
	t.Cleanup(server.Close)
	t.Cleanup(s.Close)
	_, err = chromedp.Call(ctx, network.ClearBrowserCookies, cdp.Empty{}) // another journey may have read German
	must(t, err)
	return traveller{t, ctx, server.URL, town, options.Cases.(*fakeBook), options.Replayer.(*fakeReplayer)}
}
