package web

import (
	"cmp"
	"context"
	"errors"
	"html/template"
	"io"
	"net/http"
	"slices"
	"strings"
	"time"

	"brinebell/dashboards/web/chart"
	"brinebell/detect"
)

// Trace is what the detectors made of a recording.
type Trace struct {
	From, To time.Time
	Readings int
	Bad      []string // lines that could not be read, some of them
	Alerts   []detect.Alert
	// Regenerations are those that were recognised.
	Regenerations []Regeneration
	// Watches are the detectors whose inner state can be looked at.
	Watches []string
	// Signals are the readings, canonical.
	Signals []SignalTrace
	// States are the numbers inside the detector that was asked for, over time.
	States []StateTrace
}

// SignalTrace is one signal of a recording.
type SignalTrace struct {
	Signal detect.Signal
	Points []Point
}

// StateTrace is one number inside a detector.
type StateTrace struct {
	Name   string
	Points []Point // Min, Mean and Max are the same
}

// Recording says what to replay: either a part of the store or a file.
type Recording struct {
	Home     detect.Home
	From, To time.Time // of the store, when File is nil
	Name     string    // of the file, whose ending says its form
	File     io.Reader
	Watch    string // the detector to look into; empty for none
	Parts    int    // spans into which the traces are put together
}

// Replayer runs recordings through the same detectors as live. An error that is
// fit for a page has a method Plain.
type Replayer interface {
	Replay(ctx context.Context, r Recording) (Trace, error)
}

// replayView is the page on which developers replay.
type replayView struct {
	Title, Sentence string
	Homes, Watches  []option
	From, To        string
	Upload          string // the largest file, in words
	Done            bool
	Alerts          []replayedAlert
	Signals, States []pictureView
	Bad             []string
	Watch, NoStates string
}

func (replayView) template() string  { return "replay" }
func (v replayView) heading() string { return v.Title }

// replayedAlert is an alert of a replay.
type replayedAlert struct{ What, Summary, Onset, Raised, Cleared, Cause string }

// The bounds of a replay in the browser: uploads, bytes; days of the store; the
// spans of its pictures.
const (
	uploadBound  = 64 << 20
	replayDays   = 92
	replayParts  = 240
	statesShown  = 16
	defaultSpan  = 14
	uploadMemory = 1 << 20
)

func (s *Server) replayPage(r *http.Request) (view, error) {
	v, a, err := s.replayForm(r)
	if err != nil || r.URL.Query().Get("home") == "" {
		return v, err
	}
	h, err := s.find(r.Context(), r.URL.Query().Get("home"))
	if err != nil {
		return nil, err
	}
	read := a.reads(h)
	from, errFrom := time.ParseInLocation(time.DateOnly, r.URL.Query().Get("from"), read.loc)
	to, errTo := time.ParseInLocation(time.DateOnly, r.URL.Query().Get("to"), read.loc)
	to = to.AddDate(0, 0, 1)
	if errFrom != nil || errTo != nil || !to.After(from) || to.Sub(from) > replayDays*24*time.Hour {
		return nil, refuse(read.Say("replay.days_wrong", "n", replayDays), "/replay")
	}
	v.From, v.To = from.Format(time.DateOnly), to.AddDate(0, 0, -1).Format(time.DateOnly)
	return s.replayed(r.Context(), v, Recording{Home: h, From: from, To: to, Watch: r.URL.Query().Get("watch"), Parts: replayParts})
}

// replayUpload replays a file that is sent; nothing of it is kept.
func (s *Server) replayUpload(r *http.Request) (view, error) {
	v, a, err := s.replayForm(r)
	if err != nil {
		return nil, err
	}
	if r.ContentLength > uploadBound {
		return nil, refuse(a.speech().Say("replay.too_large"), "/replay")
	}
	r.Body = io.NopCloser(io.LimitReader(r.Body, uploadBound)) // whatever length it says: the rest is not read
	if err := r.ParseMultipartForm(uploadMemory); err != nil { // #nosec G120 -- bounded by package access before it, and by uploadBound
		return nil, refuse(a.speech().Say("form.unread"), "/replay")
	}
	defer func() { _ = r.MultipartForm.RemoveAll() }() // temporary files; the system removes what is left
	file, header, err := r.FormFile("file")
	if err != nil {
		return nil, refuse(a.speech().Say("replay.no_file"), "/replay")
	}
	defer file.Close()
	h, err := s.find(r.Context(), r.PostFormValue("home"))
	if err != nil {
		return nil, err
	}
	return s.replayed(r.Context(), v, Recording{Home: h, Name: header.Filename, File: file, Watch: r.PostFormValue("watch"), Parts: replayParts})
}

// replayForm is the page before anything was replayed.
func (s *Server) replayForm(r *http.Request) (replayView, asker, error) {
	a := askerOf(r.Context())
	if s.Replayer == nil || a.household() {
		return replayView{}, a, errNoPage
	}
	b, err := s.board(r.Context())
	if err != nil {
		return replayView{}, a, err
	}
	t, chosen := a.speech(), cmp.Or(r.URL.Query().Get("home"), r.PostFormValue("home"))
	v := replayView{Title: t.Say("replay.title"), Sentence: t.Say("replay.sentence"), Upload: t.Say("replay.upload_bound", "n", uploadBound>>20)}
	homes := s.seen(r.Context(), b)
	for _, h := range homes {
		v.Homes = append(v.Homes, option{h.home.ID, nameOf(h.home), h.home.ID == chosen})
	}
	slices.SortFunc(v.Homes, func(a, b option) int { return strings.Compare(a.Name, b.Name) })
	if len(homes) > 0 && !homes[0].cond.now.IsZero() {
		now := homes[0].cond.now.In(a.reads(homes[0].home).loc)
		v.From, v.To = now.AddDate(0, 0, -defaultSpan).Format(time.DateOnly), now.Format(time.DateOnly)
	}
	return v, a, nil
}

func (s *Server) replayed(ctx context.Context, v replayView, rec Recording) (view, error) {
	trace, err := s.Replayer.Replay(ctx, rec)
	if err != nil {
		var said plain
		if errors.As(err, &said) {
			return nil, refuse(said.Plain(), "/replay")
		}
		return nil, err
	}
	read := askerOf(ctx).reads(rec.Home)
	v.Done, v.Bad, v.Watch = true, trace.Bad, rec.Watch
	v.Sentence = read.Say("replay.done", "n", trace.Readings, "alerts", len(trace.Alerts), "home", nameOf(rec.Home))
	for _, w := range trace.Watches {
		v.Watches = append(v.Watches, option{w, w, w == rec.Watch})
	}
	for _, a := range trace.Alerts {
		v.Alerts = append(v.Alerts, s.replayedAlert(read, a))
	}
	e := extent{trace.From, trace.To, rec.Parts, 0}
	for _, signal := range withFlows(trace.Signals, e.step()) {
		if about, ok := subjects[signal.Signal]; ok && len(signal.Points) > 0 {
			about.id = signal.Signal.String()
			v.Signals = append(v.Signals, read.replayedSignal(about, signal, trace, e))
		}
	}
	v.States = read.states(trace, e)
	if rec.Watch != "" && len(v.States) == 0 {
		v.NoStates = read.Say("replay.no_states")
	}
	return v, nil
}

func (s *Server) replayedAlert(read reader, a detect.Alert) replayedAlert {
	out := replayedAlert{What: read.kindTitle(a.Kind), Summary: read.summary(a), Onset: read.moment(a.Onset), Raised: read.moment(a.Raised)}
	if !a.Open() {
		out.Cleared = read.moment(a.Cleared)
	}
	if causes := ranked(a); len(causes) > 0 {
		title := read.causeText(s.CauseText(causes[0].Cause), causes[0].Cause).Title
		out.Cause = read.Say("town.cause", "cause", title, "percent", percent(causes[0].Probability))
	}
	return out
}

// withFlows derives the flow of a pipe of which only the meter's total is there.
func withFlows(signals []SignalTrace, step time.Duration) []SignalTrace {
	out := slices.Clone(signals)
	for flow, total := range totals {
		has := func(s detect.Signal) int {
			return slices.IndexFunc(signals, func(t SignalTrace) bool { return t.Signal == s })
		}
		if i := has(total); i >= 0 && has(flow) < 0 {
			out = append(out, SignalTrace{flow, flowFromTotals(signals[i].Points, step)})
		}
	}
	slices.SortFunc(out, func(a, b SignalTrace) int { return cmp.Compare(a.Signal, b.Signal) })
	return out
}

func (r reader) replayedSignal(about subject, signal SignalTrace, trace Trace, e extent) pictureView {
	points := signal.Points
	v := pictureView{ID: about.id, Title: r.Say(about.title), Unit: r.unit(about.dimension)}
	bands := append(regenerationBands(trace.Regenerations), r.alertBands(trace.Alerts, signal.Signal, e)...)
	v.SVG = template.HTML(chart.Picture{ID: "picture-" + about.id, Title: v.Title, Desc: r.describe(about, points, bands), Axis: r.axis(e), // #nosec G203 -- chart escapes every text
		Panels: []chart.Panel{r.panel(about, points, about.dimension == detect.FlowRate)}, Bands: bands}.SVG())
	v.Marks, v.Table = marksOf(bands, e), r.daily(about, points, e)
	return v
}

// states are the numbers inside a detector that moved, one small picture each
// on the same time.
func (r reader) states(trace Trace, e extent) []pictureView {
	var out []pictureView
	for _, state := range trace.States {
		if len(out) == statesShown {
			break
		}
		low, high := state.Points[0].Mean, state.Points[0].Mean
		drawn := make([]chart.Point, len(state.Points))
		for i, p := range state.Points {
			low, high = min(low, p.Mean), max(high, p.Mean)
			drawn[i] = chart.Point{Time: p.Time, Min: p.Mean, Mean: p.Mean, Max: p.Mean}
		}
		if low == high {
			continue
		}
		id := "state-" + strings.ToLower(strings.NewReplacer(".", "-", "[", "-", "]", "").Replace(state.Name))
		scale := chart.Scale{Low: min(0, low), High: high + (high-min(0, low))*0.08}
		desc := r.Say("replay.state", "name", state.Name, "low", r.Number(low), "high", r.Number(high), "last", r.Number(drawn[len(drawn)-1].Mean))
		v := pictureView{ID: id, Title: state.Name, Table: table{Head: r.List("replay.table"), Rows: [][]string{{state.Name, r.Number(low), r.Number(high), r.Number(drawn[len(drawn)-1].Mean)}}}}
		v.SVG = template.HTML(chart.Picture{ID: "picture-" + id, Title: state.Name, Desc: desc, Axis: r.axis(e), Height: 70, // #nosec G203 -- chart escapes every text
			Panels: []chart.Panel{{Name: state.Name, Points: drawn, Style: chart.Line, Scale: scale, Number: r.Tick}}}.SVG())
		out = append(out, v)
	}
	return out
}
