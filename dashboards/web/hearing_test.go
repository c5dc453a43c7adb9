package web

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/accessibility"
	"github.com/chromedp/chromedp"
)

// contrastScript computes the contrast of every text that is seen against what
// is painted behind it, by the formulas of WCAG 2.2 ("relative luminance",
// "contrast ratio"), translucent layers blended. It lists what falls short of
// success criterion 1.4.3: 4.5:1, or 3:1 from 24 px, or 18.66 px when bold. Texts
// in pictures are held against the nearest background of the page.
const contrastScript = `(() => {
	const probe = document.createElement("canvas").getContext("2d", {willReadFrequently: true});
	const rgba = (css) => {
		probe.clearRect(0, 0, 1, 1); probe.fillStyle = "#000"; probe.fillStyle = css; probe.fillRect(0, 0, 1, 1);
		const d = probe.getImageData(0, 0, 1, 1).data;
		return [d[0], d[1], d[2], d[3] / 255];
	};
	const over = (top, under) => [0, 1, 2].map(i => top[i] * top[3] + under[i] * (1 - top[3])).concat(1);
	const behind = (e) => {
		const layers = [];
		for (; e; e = e.parentElement) {
			const c = rgba(getComputedStyle(e).backgroundColor);
			if (c[3] > 0) layers.push(c);
			if (c[3] === 1) break;
		}
		return layers.reverse().reduce((under, top) => over(top, under), [255, 255, 255, 1]);
	};
	const luminance = (c) => c.slice(0, 3).map(v => v / 255).map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)
		.reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
	const short = [];
	const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
	for (let n = walk.nextNode(); n; n = walk.nextNode()) {
		const e = n.parentElement, style = getComputedStyle(e), box = e.getBoundingClientRect();
		if (!n.data.trim() || e.closest(".unseen, .skip, title, desc, option, script") || style.visibility !== "visible" || box.width === 0) continue;
		const back = behind(e), drawn = e.closest("svg");
		const front = over(rgba(drawn ? style.fill : style.color), back);
		const [high, low] = [luminance(front), luminance(back)].sort((a, b) => b - a);
		const size = parseFloat(style.fontSize), large = size >= 24 || size >= 18.66 && style.fontWeight >= 700;
		const ratio = (high + 0.05) / (low + 0.05);
		if (ratio < (large ? 3 : 4.5)) short.push(ratio.toFixed(2) + ":1 " + e.tagName + " " + n.data.trim().slice(0, 40));
	}
	return [...new Set(short)];
})()`

// numbersScript lists pictures without their numbers in a table of the same
// figure or section (WCAG 2.2, 1.1.1: an alternative for non-text content).
const numbersScript = `[...document.querySelectorAll("svg.picture")]
	.filter(p => !(p.closest("figure, section") || document.body).querySelector("table"))
	.map(p => p.querySelector("title").textContent)`

// TestTheContrastCheckSees holds the check itself against colours of known ratio:
// #777777 on white is 4.48:1 and #767676 is 4.54:1 (WebAIM's contrast checker,
// from memory), half-transparent black on white is #808080, 3.95:1.
func TestTheContrastCheckSees(t *testing.T) {
	ctx := openBrowser(t)
	must(t, chromedp.Do(ctx, chromedp.Navigate(`data:text/html,<body style="background:white"><p style="color:%23777777">short</p><p style="color:%23767676">well</p>`+
		`<p style="color:rgba(0,0,0,.5)">veiled</p><p style="color:%23777777;font-size:30px">large</p><div style="background:black"><p style="color:%23696969">dark</p></div>`)))
	got := strings.Join(evaluate[[]string](t, ctx, contrastScript), "; ")
	for text, seen := range map[string]bool{"short": true, "well": false, "veiled": true, "large": false, "dark": true} {
		if strings.Contains(got, text) != seen {
			t.Errorf("%s: found %v in %q", text, !seen, got)
		}
	}
}

// mustBeNamed are the roles that a screen reader names to its listener (WCAG
// 2.2, 4.1.2, 2.4.4 and 1.3.1).
var mustBeNamed = []string{"link", "button", "textbox", "searchbox", "combobox", "listbox", "radio", "checkbox", "spinbutton", "Date", "image", "img", "region", "navigation", "search",
	"DisclosureTriangle", "group", "table", "heading"}

// nameless lists what the browser's own accessibility tree has without a name.
func nameless(t *testing.T, ctx context.Context) []string {
	t.Helper()
	tree, err := chromedp.Call(ctx, accessibility.GetFullAXTree, accessibility.GetFullAXTreeParams{})
	must(t, err)
	text := func(v *accessibility.Value) (s string) {
		if v != nil {
			_ = json.Unmarshal(v.Value, &s) // another type is no text
		}
		return s
	}
	var out []string
	seen := 0
	for _, n := range tree.Nodes {
		if role := text(n.Role); !n.Ignored && slices.Contains(mustBeNamed, role) {
			if seen++; text(n.Name) == "" && role != "group" && role != "table" {
				out = append(out, fmt.Sprintf("%s %s", role, n.NodeID))
			}
		}
	}
	if seen < 5 {
		t.Errorf("the accessibility tree names only %d things: is it read at all?", seen)
	}
	return out
}

// focusScript says where the focus is: the place of the element among all, and
// whether its outline is seen.
const focusScript = `(() => {
	const e = document.activeElement;
	if (!e || e === document.body) return {place: -1};
	const style = getComputedStyle(e), box = e.getBoundingClientRect();
	return {place: [...document.querySelectorAll("*")].indexOf(e), seen: style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2,
		inside: box.bottom > 0 && box.top < innerHeight, what: e.tagName + " " + (e.textContent || e.name || "").trim().slice(0, 30)};
})()`

type focused struct {
	Place  int    `json:"place"`
	Seen   bool   `json:"seen"`
	Inside bool   `json:"inside"`
	What   string `json:"what"`
}

// checkFocus walks a page with the Tab key: the first stop skips to the content
// (WCAG 2.2, 2.4.1), every further one stands later in the document (2.4.3), is
// within the window (2.4.11) and shows an outline (2.4.7), and none is a trap
// (2.1.2).
func checkFocus(t *testing.T, ctx context.Context) {
	t.Helper()
	const mostStops = 150
	last := focused{Place: -1}
	for i := range mostStops {
		must(t, chromedp.Do(ctx, chromedp.KeyEvent("\t")))
		at := evaluate[focused](t, ctx, focusScript)
		switch {
		case at.Place < 0 && i > 3:
			return // round the end
		case i == 0 && !strings.HasPrefix(at.What, "A Skip"):
			t.Errorf("the first stop is %q", at.What)
		case at.Place == last.Place && !strings.HasPrefix(at.What, "INPUT"): // a date has several stops within
			t.Errorf("the focus is caught at %q", at.What)
			return
		case at.Place < last.Place:
			if i < 4 {
				t.Errorf("after %q comes %q, which stands before it", last.What, at.What)
			}
			return
		}
		within := at.Place == last.Place // the stops within a date draw their own
		if !at.Seen && !within || !at.Inside {
			t.Errorf("the focus on %q is not seen (outline %v, inside %v)", at.What, at.Seen, at.Inside)
		}
		last = at
	}
	t.Errorf("after %d stops the page has not ended", mostStops)
}
