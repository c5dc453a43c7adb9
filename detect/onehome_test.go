package detect_test

import (
	"strings"
	"testing"
	"time"

	"brinebell/detect"
)

const oneProfile = `# the mill
id: mill-1
timezone: Europe/Dublin
water: {hardness: 320 mg/L} # measured in May
away: [{from: 2026-02-01, to: 2026-02-03}]
meters:
  inlet: {pulse: 1 L}
`

func readOne(t *testing.T, text string) detect.Home {
	t.Helper()
	h, err := detect.ReadHome("mill-1.yaml", text)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func TestOneHome(t *testing.T) {
	h := readOne(t, oneProfile)
	if h.ID != "mill-1" || h.Water.Hardness != 320 || len(h.Away) != 1 || h.Meters.Inlet.Pulse != 1 {
		t.Errorf("%+v", h)
	}
	for text, want := range map[string]string{
		"": "empty", "- a": "expected keys", "id: x\n": "timezone", "id: x\ntimezone: Europe/Dublin\nlid: 1\n": "x.yaml:3: lid: unknown key", "id: [": "did not find",
	} {
		if _, err := detect.ReadHome("x.yaml", text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %s", text, err, want)
		}
	}
}

func TestSplitHomes(t *testing.T) {
	file := "homes:\n  - id: a\n    timezone: UTC\n    water: {hardness: 17 gpg}\n  - {id: b, timezone: UTC}\n"
	texts, err := detect.SplitHomes("homes.yaml", strings.NewReader(file))
	if err != nil || len(texts) != 2 {
		t.Fatal(texts, err)
	}
	whole, err := detect.ReadHomes("homes.yaml", strings.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	for i, text := range texts {
		if h := readOne(t, text); h.ID != whole[i].ID || h.Water != whole[i].Water {
			t.Errorf("%+v, want %+v", h, whole[i])
		}
	}
	if _, err := detect.SplitHomes("homes.yaml", strings.NewReader("homes: [")); err == nil {
		t.Error("no complaint")
	}
}

func TestWithAway(t *testing.T) {
	h := readOne(t, oneProfile)
	day := func(s string) time.Time {
		at, err := time.ParseInLocation(time.DateOnly, s, h.Location)
		if err != nil {
			t.Fatal(err)
		}
		return at
	}
	spans := []detect.Span{{From: day("2026-03-28"), To: day("2026-03-30")}, {From: day("2026-08-01"), To: day("2026-08-02")}} // over a change of the clock
	for name, text := range map[string]string{"instead": oneProfile, "first": "id: mill-1\ntimezone: Europe/Dublin\n"} {
		got, err := detect.WithAway(text, spans)
		if err != nil {
			t.Fatal(err)
		}
		again := readOne(t, got).Away
		if len(again) != 2 || !again[0].From.Equal(spans[0].From) || !again[0].To.Equal(spans[0].To) || !again[1].To.Equal(spans[1].To) {
			t.Errorf("%s: %v, want %v", name, again, spans)
		}
		if name == "instead" && (!strings.Contains(got, "# measured in May") || !strings.Contains(got, "320 mg/L")) {
			t.Errorf("lost on the way:\n%s", got)
		}
	}
	if got, err := detect.WithAway(oneProfile, nil); err != nil || len(readOne(t, got).Away) != 0 {
		t.Error(got, err)
	}
	for _, text := range []string{"", "- a", "id: ["} {
		if _, err := detect.WithAway(text, nil); err == nil {
			t.Errorf("%q: no complaint", text)
		}
	}
}

func TestWhatMustBeJudgedAgain(t *testing.T) {
	day := func(n int) time.Time { return time.Date(2026, 8, n, 0, 0, 0, 0, time.UTC) }
	for name, c := range map[string]struct {
		change func(*detect.Home)
		from   time.Time
		again  bool
	}{
		"nothing":         {func(*detect.Home) {}, time.Time{}, false},
		"the name":        {func(h *detect.Home) { h.Name = "x" }, time.Time{}, false},
		"the dose":        {func(h *detect.Home) { h.Softener.SaltDose = 1 }, time.Time{}, false},
		"the water":       {func(h *detect.Home) { h.Water.Hardness = 1 }, time.Time{}, false},
		"the tank":        {func(h *detect.Home) { h.BrineTank.Diameter = 500 }, time.Time{}, true},
		"the zone":        {func(h *detect.Home) { h.Location = time.FixedZone("x", 3600) }, time.Time{}, true},
		"a meter's pulse": {func(h *detect.Home) { h.Meters.Inlet = &detect.Meter{Pulse: 10} }, time.Time{}, true},
		"no meter":        {func(h *detect.Home) { h.Meters.Inlet = nil }, time.Time{}, true},
		"the same meter":  {func(h *detect.Home) { h.Meters.Inlet = &detect.Meter{Pulse: 1} }, time.Time{}, false},
		"one more span":   {func(h *detect.Home) { h.Away = append(h.Away, detect.Span{From: day(10), To: day(12)}) }, day(10), true},
		"one span less":   {func(h *detect.Home) { h.Away = nil }, day(1), true},
		"a longer span":   {func(h *detect.Home) { h.Away = []detect.Span{{From: day(1), To: day(9)}} }, day(1), true},
	} {
		old := detect.DefaultHome("a", time.UTC)
		old.Meters.Inlet = &detect.Meter{Pulse: 1}
		old.Away = []detect.Span{{From: day(1), To: day(3)}}
		changed := old
		c.change(&changed)
		if from, again := detect.JudgeAgain(old, changed); !from.Equal(c.from) || again != c.again {
			t.Errorf("%s: from %v, %v", name, from, again)
		}
	}
}
