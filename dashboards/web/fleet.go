package web

import (
	"cmp"
	"context"
	"math"
	"net/http"
	"slices"

	"brinebell/detect"
)

// fleetView is how all softeners do, taken together.
type fleetView struct {
	Title, Sentence string
	Soft            []tally
	Efficiency      []efficiencyView
	Feedback        [][]string // kind, said not to be true, of so many
	Sensors         []sensorRow
	None            bool
}

func (fleetView) template() string  { return "fleet" }
func (v fleetView) heading() string { return v.Title }

// tally is how many homes are so, as a share of all.
type tally struct {
	Name  string
	Homes int
	Share int // per cent
	Class string
}

// efficiencyView is one figure of every softener against its limit.
type efficiencyView struct {
	Title, Sentence, Limit string
	Within, Beyond         int
	Share                  int // per cent within
	Worst                  []worstRow
}

// worstRow is a home at the wrong end.
type worstRow struct{ ID, Name, Value string }

// sensorRow is a sensor that fails, or a battery that runs out.
type sensorRow struct{ ID, Name, What, Since string }

// The limits: at least 4,000 grains of hardness a pound of salt (California
// Health and Safety Code, section 116785(b)(2)), at most 5 gallons of
// regeneration water for 1,000 grains (NSF/ANSI 44, as quoted by Madison
// Metropolitan Sewerage District).
const (
	saltLimit  = 4000 * gramsPerGrain / 0.45359237        // g of hardness for a kg of salt
	waterLimit = 5 * 3.785411784 / (1000 * gramsPerGrain) // L for a g of hardness
	// gramsPerGrain is 1/7000 lb (NIST Special Publication 811, appendix B.8).
	gramsPerGrain = 0.06479891
)

func (s *Server) fleet(r *http.Request) (view, error) {
	a := askerOf(r.Context())
	if a.household() {
		return nil, errNoPage
	}
	b, err := s.board(r.Context())
	if err != nil {
		return nil, err
	}
	homes := s.seen(r.Context(), b)
	read := a.plainly(homes)
	v := fleetView{Title: read.Say("fleet.title"), None: len(homes) == 0}
	v.Soft, v.Sentence = read.softToday(homes)
	v.Efficiency = []efficiencyView{
		read.efficiency(homes, "fleet.salt", func(h *standing) float64 { return h.salt }, true, saltLimit),
		read.efficiency(homes, "fleet.water", func(h *standing) float64 { return h.rinse }, false, waterLimit),
	}
	v.Sensors = a.failing(homes)
	v.Feedback, err = s.feedback(r.Context(), read, a)
	return v, err
}

// hardKinds are the findings by which a home's water is not soft.
func hardKinds() []detect.Kind {
	return []detect.Kind{detect.HardWater, detect.CapacityShort, detect.BypassOpen, detect.RegenerationMissed, detect.SaltBridgeKind}
}

// softToday counts the homes whose water is soft as far as their books and
// alerts tell.
func (r reader) softToday(homes []*standing) ([]tally, string) {
	var soft, hard, unknown int
	for _, h := range homes {
		left := h.books.Bed.LeftLitres
		switch {
		case slices.ContainsFunc(h.cond.open, func(a detect.Alert) bool { return slices.Contains(hardKinds(), a.Kind) }):
			hard++
		case !h.booked || !left.Known():
			unknown++
		case left <= 0:
			hard++
		default:
			soft++
		}
	}
	all := max(1, len(homes))
	return []tally{
		{r.Say("fleet.soft"), soft, soft * 100 / all, "good"},
		{r.Say("fleet.hard"), hard, hard * 100 / all, "bad"},
		{r.Say("fleet.unknown"), unknown, unknown * 100 / all, "open"},
	}, r.Say("fleet.sentence", "soft", soft, "all", len(homes))
}

// removed is the hardness taken out in the last week, g as CaCO3.
func removed(h *standing) float64 {
	return float64(h.books.Water.Week) * h.home.Water.Hardness / 1000
}

// saltEfficiency is g of hardness for a kg of salt in the last week.
func saltEfficiency(h *standing) float64 {
	if !(h.books.Salt.Week > 0) {
		return math.NaN()
	}
	return removed(h) / float64(h.books.Salt.Week)
}

// waterEfficiency is L of regeneration water for a g of hardness in the last
// week.
func waterEfficiency(h *standing) float64 {
	rinse, days := 0.0, h.books.Days
	for _, d := range days[max(0, len(days)-8):max(0, len(days)-1)] {
		rinse += nought(float64(d.Rinse))
	}
	if g := removed(h); g > 0 && rinse > 0 {
		return rinse / g
	}
	return math.NaN()
}

// worstShown is how many homes at the wrong end are named.
const worstShown = 8

// efficiency holds every home's figure against a limit.
func (r reader) efficiency(homes []*standing, key string, of func(*standing) float64, atLeast bool, limit float64) efficiencyView {
	v := efficiencyView{Title: r.Say(key + ".title"), Limit: r.Say(key+".limit", "limit", r.Number(limit))}
	var worst []*standing // few, the worst first
	further := func(a, b *standing) int {
		if atLeast {
			return cmp.Compare(of(a), of(b))
		}
		return cmp.Compare(of(b), of(a))
	}
	for _, h := range homes {
		switch value := of(h); {
		case math.IsNaN(value):
		case atLeast == (value >= limit):
			v.Within++
		default:
			v.Beyond++
			if len(worst) < worstShown || further(h, worst[len(worst)-1]) < 0 {
				i, _ := slices.BinarySearchFunc(worst, h, func(a, b *standing) int { return cmp.Or(further(a, b), -1) })
				worst = slices.Insert(worst, i, h)[:min(len(worst)+1, worstShown)]
			}
		}
	}
	for _, h := range worst {
		v.Worst = append(v.Worst, worstRow{h.home.ID, nameOf(h.home), r.Say(key+".value", "value", r.Number(of(h)))})
	}
	if n := v.Within + v.Beyond; n > 0 {
		v.Share = v.Within * 100 / n
	}
	v.Sentence = r.Say("fleet.within", "within", v.Within, "all", v.Within+v.Beyond)
	if v.Within+v.Beyond == 0 {
		v.Sentence = r.Say("fleet.none_measured")
	}
	return v
}

// The sensors that a page lists at most, and the battery from which on a sensor
// is on the list, per cent.
const (
	sensorsShown = 60
	lowBattery   = 20
)

// failing are the sensors that need a hand, of all homes.
func (a asker) failing(homes []*standing) []sensorRow {
	var out []sensorRow
	for _, h := range homes {
		read := a.reads(h.home)
		for _, alert := range h.cond.open {
			switch alert.Kind {
			case detect.SensorSilent, detect.SensorStuck, detect.SensorImplausible, detect.SensorClock:
				what := read.kindTitle(alert.Kind)
				if names, ok := alert.Evidence["signals"].(string); ok {
					what += ": " + read.signalNames(names)
				}
				out = append(out, sensorRow{h.home.ID, nameOf(h.home), what, read.moment(alert.Onset)})
			}
		}
		if h.cond.Mute {
			out = append(out, sensorRow{h.home.ID, nameOf(h.home), read.Say("fleet.mute"), read.moment(h.cond.now)})
		}
		if h.battery <= lowBattery { // false for NaN
			out = append(out, sensorRow{h.home.ID, nameOf(h.home), read.Say("fleet.battery", "percent", int(h.battery)), ""})
		}
		if len(out) >= sensorsShown {
			return out[:sensorsShown]
		}
	}
	return out
}

// feedback is how often people said of a kind of alert that nothing was wrong.
func (s *Server) feedback(ctx context.Context, read reader, a asker) ([][]string, error) {
	if s.Cases == nil {
		return nil, nil
	}
	said, err := s.Cases.FalseAlarms(ctx, a.person.Firm)
	if err != nil {
		return nil, err
	}
	var out [][]string
	for _, f := range said {
		out = append(out, []string{read.kindTitle(f.Kind), read.Grouped(float64(f.Said)), read.Grouped(float64(f.Raised))})
	}
	return out, nil
}
