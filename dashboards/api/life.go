package api

import (
	"context"
	"strings"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"brinebell/dashboards/access"
	"brinebell/detect"
	"brinebell/detect/books"
	"brinebell/detect/care"
	"brinebell/detect/cause"
)

// alertView is an alert as published.
type alertView struct {
	Alert    string              `json:"alert" doc:"its id"`
	Home     string              `json:"home"`
	Kind     string              `json:"kind"`
	Severity string              `json:"severity" enum:"act_now,this_week,plan"`
	Title    string              `json:"title"`
	Onset    time.Time           `json:"onset"`
	Raised   time.Time           `json:"raised"`
	Cleared  *time.Time          `json:"cleared" doc:"null while it stands"`
	Summary  string              `json:"summary"`
	Caution  string              `json:"caution,omitempty" doc:"what to be careful of"`
	Causes   []detect.CauseShare `json:"causes" nullable:"false" doc:"likeliest first"`
	Evidence map[string]any      `json:"evidence"`
}

func viewOfAlert(a detect.Alert) alertView {
	v := alertView{Alert: a.ID, Home: a.Home, Kind: string(a.Kind), Severity: string(a.Severity), Title: care.Title(a.Kind), Onset: a.Onset.UTC(), Raised: a.Raised.UTC(),
		Summary: a.Summary, Caution: care.Caution(a.Kind), Causes: append([]detect.CauseShare{}, a.Causes...), Evidence: a.Evidence}
	if v.Evidence == nil {
		v.Evidence = map[string]any{}
	}
	if !a.Open() {
		cleared := a.Cleared.UTC()
		v.Cleared = &cleared
	}
	return v
}

func (a *API) registerLife() {
	huma.Register(a.huma, op("GET", "/alerts", "list-alerts", "Alerts of all homes that one may see, by time of raising", 200), a.listAlerts)
	huma.Register(a.huma, op("GET", "/homes/{home}/alerts", "list-home-alerts", "Alerts of a home", 200), a.listHomeAlerts)
	huma.Register(a.huma, op("GET", "/homes/{home}/books", "get-books", "The books of a home's softener", 200), a.getBooks)
	huma.Register(a.huma, op("GET", "/homes/{home}/regenerations", "list-regenerations", "Recognised regenerations, oldest first", 200), a.listRegenerations)
	huma.Register(a.huma, op("GET", "/homes/{home}/signals", "list-signals", "What a home's sensors send, with the newest reading of each", 200), a.listSignals)
	huma.Register(a.huma, op("GET", "/homes/{home}/points", "get-points", "Readings of a signal", 200), a.getPoints)
}

// Which narrows a list of alerts.
type Which struct {
	Open bool      `query:"open" doc:"only those that stand"`
	From time.Time `query:"from" doc:"raised at this time or after"`
	Kind string    `query:"kind" doc:"only of this kind"`
}

func (a *API) listAlerts(ctx context.Context, in *struct {
	Paging
	Which
}) (*pageOf[alertView], error) {
	homes, err := a.visible(ctx, care.SeeLife)
	if err != nil {
		return nil, err
	}
	see := map[string]bool{}
	for _, h := range homes {
		see[h.ID] = true
	}
	return a.alertPage(ctx, "", in.Paging, in.Which, see)
}

func (a *API) listHomeAlerts(ctx context.Context, in *struct {
	HomePath
	Paging
	Which
}) (*pageOf[alertView], error) {
	if _, err := a.at(ctx, in.Home, care.SeeLife); err != nil {
		return nil, err
	}
	return a.alertPage(ctx, in.Home, in.Paging, in.Which, map[string]bool{in.Home: true})
}

func (a *API) alertPage(ctx context.Context, home string, p Paging, w Which, see map[string]bool) (*pageOf[alertView], error) {
	all, err := a.Homes.Alerts(ctx, home)
	if err != nil {
		return nil, a.fail(err, "home")
	}
	views := []alertView{}
	for _, one := range all {
		if see[one.Home] && (!w.Open || one.Open()) && !one.Raised.Before(w.From) && (w.Kind == "" || w.Kind == string(one.Kind)) {
			views = append(views, viewOfAlert(one))
		}
	}
	return slice(views, func(v alertView) string { return v.Raised.Format(sortable) + " " + v.Alert }, p)
}

// sortable is a form of times that sorts as they do.
const sortable = "2006-01-02T15:04:05.000000000Z"

func (a *API) getBooks(ctx context.Context, in *HomePath) (*struct{ Body any }, error) {
	if _, err := a.at(ctx, in.Home, care.SeeLife); err != nil {
		return nil, err
	}
	b, ok := a.Homes.Books(ctx, in.Home)
	if !ok {
		return nil, huma.Error503ServiceUnavailable("The home has not been judged up to its newest readings yet. Try again in a minute.")
	}
	return &struct{ Body any }{b}, nil
}

type regenerationView struct {
	Start      time.Time    `json:"start"`
	End        time.Time    `json:"end"`
	Ending     string       `json:"ending"`
	Manual     bool         `json:"manual" doc:"at another hour than the programme's"`
	Confidence *float64     `json:"confidence" doc:"probability that it was one"`
	Brine      *float64     `json:"brine_l" doc:"drawn into the bed; null: no sensor shows it"`
	Drain      *float64     `json:"drain_l"`
	Refill     *float64     `json:"refill_l"`
	Entry      *bookedEntry `json:"entry" doc:"what the books say of it; null when it was not booked"`
}

// bookedEntry is an entry of the books, whose form is that of books.
type bookedEntry struct{ books.Entry }

// Schema says that an entry is an object; its fields are as in the books.
func (bookedEntry) Schema(huma.Registry) *huma.Schema {
	return &huma.Schema{Type: huma.TypeObject, Nullable: true, AdditionalProperties: true, Description: "entry of the books; numbers are null where nobody saw them"}
}

// known is a number, or nil for one that nobody saw.
func known(v float64) *float64 {
	if v != v {
		return nil
	}
	return &v
}

func (a *API) listRegenerations(ctx context.Context, in *struct {
	HomePath
	Paging
	From time.Time `query:"from" doc:"begun at this time or after"`
	To   time.Time `query:"to" doc:"begun before"`
}) (*pageOf[regenerationView], error) {
	if _, err := a.at(ctx, in.Home, care.SeeLife); err != nil {
		return nil, err
	}
	if in.To.IsZero() {
		in.To = a.Now().AddDate(1, 0, 0)
	}
	all, err := a.Homes.Regenerations(ctx, in.Home, in.From, in.To)
	if err != nil {
		return nil, a.fail(err, "home")
	}
	views := make([]regenerationView, len(all))
	for i, r := range all {
		views[i] = regenerationView{Start: r.Start.UTC(), End: r.End.UTC(), Ending: string(r.Ending), Manual: r.Manual, Confidence: known(r.Confidence),
			Brine: known(r.BrineLitres), Drain: known(r.DrainLitres), Refill: known(r.RefillLitres)}
		if r.Entry != nil {
			views[i].Entry = &bookedEntry{*r.Entry}
		}
	}
	return slice(views, func(v regenerationView) string { return v.Start.Format(sortable) }, in.Paging)
}

type SignalView struct {
	Signal string    `json:"signal"`
	Unit   string    `json:"unit"`
	Time   time.Time `json:"time" doc:"of the newest reading"`
	Value  float64   `json:"value"`
}

func (a *API) listSignals(ctx context.Context, in *HomePath) (*struct {
	Body struct {
		Signals []SignalView `json:"signals" nullable:"false"`
	}
}, error) {
	if _, err := a.at(ctx, in.Home, care.SeeLife); err != nil {
		return nil, err
	}
	latest, err := a.Homes.Latest(ctx, in.Home)
	if err != nil {
		return nil, a.fail(err, "home")
	}
	out := &struct {
		Body struct {
			Signals []SignalView `json:"signals" nullable:"false"`
		}
	}{}
	out.Body.Signals = signalsOf(latest)
	return out, nil
}

// signalsOf are the newest readings in order of their signals.
func signalsOf(latest map[detect.Signal]Value) []SignalView {
	out := []SignalView{}
	for s := range detect.NumSignals {
		if v, ok := latest[s]; ok {
			out = append(out, SignalView{s.String(), s.Unit(), v.Time.UTC(), v.Value})
		}
	}
	return out
}

func (a *API) getPoints(ctx context.Context, in *struct {
	HomePath
	Signal string    `query:"signal" required:"true" doc:"as in inlet_flow"`
	From   time.Time `query:"from" required:"true"`
	To     time.Time `query:"to" required:"true"`
	Most   int       `query:"most" minimum:"1" maximum:"10000" default:"1000" doc:"into how many equal spans they are put together at most"`
}) (*struct {
	Body struct {
		Signal string  `json:"signal"`
		Unit   string  `json:"unit"`
		Points []Point `json:"points" nullable:"false"`
	}
}, error) {
	if _, err := a.at(ctx, in.Home, care.SeeLife); err != nil {
		return nil, err
	}
	signal, err := detect.ParseSignal(in.Signal)
	if err != nil {
		return nil, huma.Error422UnprocessableEntity("there is no such signal", &huma.ErrorDetail{Location: "query.signal", Message: err.Error(), Value: in.Signal})
	}
	if !in.From.Before(in.To) {
		return nil, huma.Error422UnprocessableEntity("from must be before to")
	}
	points, err := a.Homes.Points(ctx, in.Home, signal, in.From, in.To, in.Most)
	if err != nil {
		return nil, a.fail(err, "home")
	}
	out := &struct {
		Body struct {
			Signal string  `json:"signal"`
			Unit   string  `json:"unit"`
			Points []Point `json:"points" nullable:"false"`
		}
	}{}
	out.Body.Signal, out.Body.Unit, out.Body.Points = signal.String(), signal.Unit(), append([]Point{}, points...)
	return out, nil
}

// role says what checks who asks can make.
func (a *API) role(ctx context.Context) cause.Who {
	if p, ok := access.From(ctx); ok && p.Role == care.Household {
		return cause.Household
	}
	return cause.Technician
}

// plainly is an error's text as one line.
func plainly(err error) string { return strings.ReplaceAll(err.Error(), "\n", "; ") }
