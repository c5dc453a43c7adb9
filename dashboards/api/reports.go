package api

import (
	"context"
	"maps"
	"slices"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"brinebell/detect"
	"brinebell/detect/care"
	"brinebell/detect/cause"
)

// ReportBody is what people report of a home.
type ReportBody struct {
	Symptoms map[string]bool    `json:"symptoms,omitempty" doc:"by id, as symptoms lists them; true: yes"`
	Hardness map[string]float64 `json:"hardness,omitempty" doc:"mg/L as CaCO3, by raw_hardness, cold_hardness and hot_hardness"`
	Checks   map[string]string  `json:"checks,omitempty" doc:"by check: the outcome that was found; empty takes an answer back"`
}

func (b ReportBody) hardness() (map[detect.Signal]float64, error) {
	out := map[detect.Signal]float64{}
	for name, v := range b.Hardness {
		s, err := detect.ParseSignal(name)
		if err != nil || s != detect.RawHardness && s != detect.ColdHardness && s != detect.HotHardness {
			return nil, huma.Error422UnprocessableEntity(name + " is none of raw_hardness, cold_hardness and hot_hardness")
		}
		out[s] = v
	}
	return out, nil
}

type reportView struct {
	At time.Time `json:"at"`
	By string    `json:"by"`
	ReportBody
	Note string `json:"note"`
}

func (a *API) registerReports() {
	huma.Register(a.huma, op("GET", "/symptoms", "list-symptoms", "What people can be asked, and checks with their outcomes", 200), a.listSymptoms)
	huma.Register(a.huma, op("GET", "/homes/{home}/reports", "list-reports", "What was reported of a home, oldest first", 200), a.listReports)
	huma.Register(a.huma, op("POST", "/homes/{home}/reports", "add-report", "Report symptoms, measured hardness, outcomes of checks", 204), a.addReport)
	huma.Register(a.huma, op("POST", "/homes/{home}/diagnose", "diagnose", "What causes it? From all that is known of the home and what is added here, Which is not kept", 200), a.diagnose)
}

type askable struct {
	ID       string          `json:"id"`
	Asks     string          `json:"asks"`
	Minutes  float64         `json:"minutes,omitempty" doc:"of hands, not of waiting"`
	Who      string          `json:"who,omitempty"`
	Tools    string          `json:"tools,omitempty"`
	Caution  string          `json:"caution,omitempty"`
	Outcomes []cause.Outcome `json:"outcomes,omitempty"`
}

func askableCheck(c *cause.Check) askable {
	return askable{c.ID, c.Asks, c.Minutes, string(c.Who), c.Tools, c.Caution, c.Outcomes}
}

type symptomList struct {
	Symptoms []askable `json:"symptoms" nullable:"false"`
	Checks   []askable `json:"checks" nullable:"false"`
}

func (a *API) listSymptoms(context.Context, *struct{}) (*struct{ Body symptomList }, error) {
	out := &struct{ Body symptomList }{}
	for _, s := range a.Model.Symptoms() {
		out.Body.Symptoms = append(out.Body.Symptoms, askable{ID: s.ID, Asks: s.Asks})
	}
	for _, c := range a.Model.Checks() {
		out.Body.Checks = append(out.Body.Checks, askableCheck(c))
	}
	return out, nil
}

func (a *API) listReports(ctx context.Context, in *struct {
	HomePath
	Paging
}) (*pageOf[reportView], error) {
	if _, err := a.at(ctx, in.Home, care.SeeLife); err != nil {
		return nil, err
	}
	all, err := a.Cases.Reports(ctx, in.Home)
	if err != nil {
		return nil, a.fail(err, "home")
	}
	views := make([]reportView, len(all))
	for i, r := range all {
		views[i] = reportView{r.At.UTC(), r.By, ReportBody{r.Symptoms, named(r.Hardness), r.Checks}, r.Note}
	}
	return slice(views, func(v reportView) string { return v.At.Format(sortable) }, in.Paging)
}

func named(h map[detect.Signal]float64) map[string]float64 {
	out := map[string]float64{}
	for s, v := range h {
		out[s.String()] = v
	}
	return out
}

func (a *API) addReport(ctx context.Context, in *struct {
	HomePath
	Body struct {
		ReportBody
		Note string `json:"note,omitempty" maxLength:"4000"`
	}
}) (*nothing, error) {
	if _, err := a.at(ctx, in.Home, care.Report); err != nil {
		return nil, err
	}
	hardness, err := in.Body.hardness()
	if err != nil {
		return nil, err
	}
	err = a.Cases.Report(ctx, a.asker(ctx), in.Home, Report{Symptoms: in.Body.Symptoms, Hardness: hardness, Checks: in.Body.Checks, Note: in.Body.Note})
	return &nothing{}, a.fail(err, "home")
}

type rankedView struct {
	Cause       string         `json:"cause"`
	Title       string         `json:"title"`
	Probability float64        `json:"probability"`
	For         []cause.Weight `json:"for" nullable:"false"`
	Against     []cause.Weight `json:"against" nullable:"false"`
	Household   string         `json:"household" doc:"what it means and what to do now"`
	Caution     string         `json:"caution,omitempty"`
}

type diagnosisView struct {
	None   float64      `json:"none" doc:"probability that none of the causes is there"`
	Causes []rankedView `json:"causes" nullable:"false"`
	Next   *askable     `json:"next,omitempty" doc:"the check that tells most per minute; not there when none tells anything"`
}

func (a *API) diagnose(ctx context.Context, in *struct {
	HomePath
	Body ReportBody
}) (*struct{ Body diagnosisView }, error) {
	at, err := a.at(ctx, in.Home, care.SeeLife)
	if err != nil {
		return nil, err
	}
	hardness, err := in.Body.hardness()
	if err != nil {
		return nil, err
	}
	e, err := a.evidence(ctx, in.Home)
	if err != nil {
		return nil, a.fail(err, "home")
	}
	maps.Copy(e.Symptoms, in.Body.Symptoms)
	maps.Copy(e.Hardness, hardness)
	maps.Copy(e.Checks, in.Body.Checks)
	if err := a.Model.Validate(e); err != nil {
		return nil, huma.Error422UnprocessableEntity(plainly(err))
	}
	x, err := a.Cases.Experience(ctx, at.Firm)
	if err != nil {
		return nil, a.fail(err, "firm")
	}
	return &struct{ Body diagnosisView }{viewOfDiagnosis(a.Model.With(x).Diagnose(e, a.role(ctx)))}, nil
}

// evidence is all that is known of a home.
func (a *API) evidence(ctx context.Context, home string) (cause.Evidence, error) {
	e, err := a.Cases.Evidence(ctx, home)
	if err != nil {
		return e, err
	}
	latest, err := a.Homes.Latest(ctx, home)
	if err != nil {
		return e, err
	}
	e.Visible = a.Model.Visible(func(s detect.Signal) bool { return sends(latest, s) })
	if h, err := a.home(home); err == nil {
		e = e.WithProfile(h.Water)
	}
	e.Symptoms, e.Hardness, e.Checks = orMade(e.Symptoms), orMade(e.Hardness), orMade(e.Checks)
	return e, nil
}

// sends says whether a home sends a signal; a flow may come as its total.
func sends(latest map[detect.Signal]Value, s detect.Signal) bool {
	if _, ok := latest[s]; ok {
		return true
	}
	point, isFlow := s.FlowPoint()
	return isFlow && slices.ContainsFunc(slices.Collect(maps.Keys(latest)), func(other detect.Signal) bool {
		p, ok := other.FlowPoint()
		return ok && p == point
	})
}

func orMade[K comparable, V any](m map[K]V) map[K]V {
	if m == nil {
		return map[K]V{}
	}
	return maps.Clone(m)
}

func viewOfDiagnosis(d cause.Diagnosis) diagnosisView {
	v := diagnosisView{None: d.None, Causes: []rankedView{}}
	for _, r := range d.Causes {
		text := cause.Lookup(r.Cause)
		v.Causes = append(v.Causes, rankedView{string(r.Cause), text.Title, r.Probability, append([]cause.Weight{}, r.For...), append([]cause.Weight{}, r.Against...), text.Household, text.Caution})
	}
	if d.Next != nil {
		next := askableCheck(d.Next.Check)
		v.Next = &next
	}
	return v
}
