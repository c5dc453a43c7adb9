package score

import (
	"cmp"
	"slices"
	"time"

	"brinebell/detect"
)

// Version is that of the report's form in JSON.
const Version = 1

// Report is the score. It is also the form in which a score is kept, to compare
// a later one with.
type Report struct {
	Version     int         `json:"version"`
	Homes       int         `json:"homes"`
	Years       float64     `json:"home_years"`
	Faults      []Fault     `json:"faults"`       // those that occurred, in the order of detect.Causes
	False       []FalseRate `json:"false_alarms"` // per kind that was raised, in the order of detect.Kinds
	FalseAll    FalseRate   `json:"false_alarms_all"`
	FalseActNow FalseRate   `json:"false_alarms_act_now"`
	Causes      Causes      `json:"causes"`
	Sureness    []Sureness  `json:"calibration"`
	Episodes    []Judged    `json:"episodes"` // in order of home, start and fault
	Alerts      []Heard     `json:"alerts"`   // in order of home and raising
	Unwatched   int         `json:"unwatched_episodes"`
	Exposures   []HomeYears `json:"exposure"`
}

// HomeYears is how long a home was watched.
type HomeYears struct {
	Home  string  `json:"home"`
	Years float64 `json:"years"`
}

// New scores.
func New(in Input) *Report {
	r := &Report{Version: Version}
	homes := gather(in, r)
	rules := rulesByCause()
	var shares []share
	pairs, both := 0, 0
	for _, h := range homes {
		m := matcher{rules: rules, alerts: h.alerts, sight: h.sight, flow: in.LeakFlow, until: h.until}
		judged, heard := m.judge(h.episodes)
		r.Episodes = append(r.Episodes, judged...)
		r.Alerts = append(r.Alerts, heard...)
		r.Exposures = append(r.Exposures, HomeYears{h.id, h.years})
		r.Years += h.years
		shares = m.shares(h.episodes, shares)
		n, named := m.pairs(judged)
		pairs, both = pairs+n, both+named
	}
	r.Homes = len(homes)
	r.Faults = faultsOf(r.Episodes)
	r.Causes = causesOf(r.Episodes, pairs, both)
	r.rates(in.Intn)
	r.Sureness = []Sureness{surenessOf("first cause", firsts(shares)), surenessOf("every cause", shares)}
	return r
}

// watched is what belongs to one home.
type watched struct {
	id       string
	years    float64
	until    time.Time
	episodes []Episode
	alerts   []detect.Alert
	sight    *Sight
}

// gather sorts the input by homes. Episodes and alerts of homes that were not
// watched are left out, and the episodes counted.
func gather(in Input, r *Report) []*watched {
	byID := map[string]*watched{}
	for _, x := range in.Exposures {
		h := byID[x.Home]
		if h == nil {
			h = &watched{id: x.Home}
			byID[x.Home] = h
		}
		h.years += x.Years()
		if x.To.After(h.until) {
			h.until = x.To
		}
	}
	for _, e := range in.Episodes {
		if h := byID[e.Home]; h != nil && e.Start.Before(h.until) {
			h.episodes = append(h.episodes, e)
		} else {
			r.Unwatched++
		}
	}
	for _, a := range in.Alerts {
		if h := byID[a.Home]; h != nil {
			h.alerts = append(h.alerts, a)
		}
	}
	for i := range in.Sights {
		if h := byID[in.Sights[i].Profile.ID]; h != nil {
			h.sight = &in.Sights[i]
		}
	}
	return inOrder(byID)
}

func inOrder(byID map[string]*watched) []*watched {
	homes := make([]*watched, 0, len(byID))
	for _, h := range byID {
		slices.SortStableFunc(h.episodes, func(a, b Episode) int {
			return cmp.Or(a.Start.Compare(b.Start), cmp.Compare(a.Fault, b.Fault))
		})
		homes = append(homes, h)
	}
	slices.SortFunc(homes, func(a, b *watched) int { return cmp.Compare(a.id, b.id) })
	return homes
}
