package api

import (
	"context"
	"errors"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"brinebell/dashboards/access"
	"brinebell/detect"
	"brinebell/detect/care"
)

type stepView struct {
	At    time.Time  `json:"at"`
	By    string     `json:"by" doc:"id of a person; empty for the engine"`
	Act   string     `json:"act"`
	Alert string     `json:"alert,omitempty"`
	Cause string     `json:"cause,omitempty"`
	Text  string     `json:"text,omitempty"`
	Due   *time.Time `json:"due,omitempty"`
}

type caseView struct {
	ID       string     `json:"id"`
	Home     string     `json:"home"`
	Stage    string     `json:"stage" enum:"open,taken,waiting_household,waiting_firm,watched,closed"`
	Kind     string     `json:"kind" doc:"of the alert nearest to the root"`
	Severity string     `json:"severity"`
	Cause    string     `json:"cause" doc:"now first, or confirmed; may be empty"`
	Lead     string     `json:"lead" doc:"id of the alert nearest to the root"`
	Alerts   []string   `json:"alerts" nullable:"false"`
	Standing []string   `json:"standing" nullable:"false" doc:"alerts that stand"`
	Holder   string     `json:"holder" doc:"id of who has it; may be empty"`
	Due      *time.Time `json:"due" doc:"when somebody means to have seen to it"`
	Into     string     `json:"into,omitempty" doc:"the case that this one was joined to"`
	Opened   time.Time  `json:"opened"`
	Changed  time.Time  `json:"changed"`
	Version  int64      `json:"version" doc:"give it back with an act, to be told if the case has moved on"`
	Loss     lossView   `json:"loss" doc:"what a day of waiting costs"`
	Watch    *watchView `json:"watch,omitempty" doc:"how far the watch after a repair is; not there without one"`
	Can      []string   `json:"can" nullable:"false" doc:"the acts that are possible now"`
	Steps    []stepView `json:"steps" nullable:"false" doc:"oldest first; of a list only the last"`
}

type lossView struct {
	Water    float64 `json:"water_l"`
	Salt     float64 `json:"salt_kg"`
	Hard     float64 `json:"hard_l" doc:"that come unsoftened"`
	Damage   float64 `json:"damage" doc:"expected, money"`
	PerDay   float64 `json:"per_day" doc:"all of it, money"`
	Currency string  `json:"currency"`
}

type watchView struct {
	Since   time.Time `json:"since"`
	Words   string    `json:"words"`
	Outcome string    `json:"outcome"`
}

func (a *API) registerCases() {
	huma.Register(a.huma, op("GET", "/cases", "list-cases", "Cases of all homes that one may see, by what waiting costs", 200), a.listCases)
	huma.Register(a.huma, op("GET", "/cases/{case}", "get-case", "A case with all its steps", 200), a.getCase)
	huma.Register(a.huma, op("POST", "/cases/{case}/acts", "act", "Do something about a case", 200), a.act)
	huma.Register(a.huma, op("GET", "/confirmations", "list-confirmations", "Causes that one's firm has confirmed, Which move its priors", 200), a.listConfirmations)
	huma.Register(a.huma, op("DELETE", "/confirmations/{id}", "undo-confirmation", "Take a confirmed cause back", 204), a.undoConfirmation)
}

func moment(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	t = t.UTC()
	return &t
}

func texts[T ~string](all []T) []string {
	out := make([]string, len(all))
	for i, s := range all {
		out[i] = string(s)
	}
	return out
}

func (a *API) viewOfCase(ctx context.Context, c Case) caseView {
	v := caseView{ID: c.ID, Home: c.Home, Stage: string(c.Stage), Kind: string(c.Kind), Severity: string(c.Severity), Cause: string(c.Cause), Lead: c.Lead,
		Alerts: texts(c.Alerts), Standing: texts(c.Standing), Holder: c.Holder, Due: moment(c.Due), Into: c.Into, Opened: c.Opened.UTC(), Changed: c.Changed.UTC(),
		Version: c.Version, Loss: lossView{c.Loss.Water, c.Loss.Salt, c.Loss.Hard, c.Loss.Damage, c.Loss.PerDay, c.Loss.Currency},
		Can: texts(c.Can(a.asker(ctx).Role)), Steps: []stepView{}}
	if c.Watch != nil {
		v.Watch = &watchView{c.Watch.Since.UTC(), c.Watch.Words(), string(c.Watch.Outcome)}
	}
	for _, s := range c.Steps {
		v.Steps = append(v.Steps, stepView{s.At.UTC(), s.By, string(s.Act), s.Alert, string(s.Cause), s.Text, moment(s.Due)})
	}
	return v
}

func (a *API) listCases(ctx context.Context, in *struct {
	Paging
	Home  string    `query:"home" doc:"only of this home"`
	Stage []string  `query:"stage" doc:"only at these stages; all but closed when not given"`
	Since time.Time `query:"since" doc:"changed since"`
	Order string    `query:"order" enum:"loss,change" default:"loss" doc:"dearest to leave first, or newest change first"`
}) (*pageOf[caseView], error) {
	q := CaseQuery{Homes: []string{}, Since: in.Since, ByChange: in.Order == "change", After: in.After, Limit: in.Limit}
	for _, s := range in.Stage {
		q.Stages = append(q.Stages, care.Stage(s))
	}
	if in.Home != "" {
		if _, err := a.at(ctx, in.Home, care.SeeLife); err != nil {
			return nil, err
		}
		q.Homes = []string{in.Home}
	} else {
		homes, err := a.visible(ctx, care.SeeLife)
		if err != nil {
			return nil, err
		}
		for _, h := range homes {
			q.Homes = append(q.Homes, h.ID)
		}
	}
	cases, next, err := a.Cases.List(ctx, q)
	if err != nil {
		return nil, a.fail(err, "case")
	}
	out := &pageOf[caseView]{Body: page[caseView]{Items: []caseView{}, Next: next}}
	for _, c := range cases {
		out.Body.Items = append(out.Body.Items, a.viewOfCase(ctx, c))
	}
	return out, nil
}

type CasePath struct {
	Case string `path:"case" maxLength:"100" doc:"id of the case"`
}

// caseAt is a case, when who asks may do an action at its home. One of a home
// that they may not know of is not there.
func (a *API) caseAt(ctx context.Context, id string, action care.Action) (Case, error) {
	c, err := a.Cases.Case(ctx, id)
	if err != nil {
		return c, a.fail(err, "case")
	}
	at, err := a.place(ctx, c.Home)
	if err == nil && !access.Knows(ctx, at) {
		err = care.ErrNone
	}
	if err != nil {
		return c, a.fail(err, "case")
	}
	if !access.May(ctx, action, at) {
		return c, forbidden()
	}
	return c, nil
}

func (a *API) getCase(ctx context.Context, in *CasePath) (*struct{ Body caseView }, error) {
	c, err := a.caseAt(ctx, in.Case, care.SeeLife)
	if err != nil {
		return nil, err
	}
	return &struct{ Body caseView }{a.viewOfCase(ctx, c)}, nil
}

func (a *API) act(ctx context.Context, in *struct {
	CasePath
	Body struct {
		Act     string    `json:"act" doc:"as in can"`
		Alert   string    `json:"alert,omitempty" maxLength:"100" doc:"of answered and not_true: Which alert"`
		Cause   string    `json:"cause,omitempty" maxLength:"100" doc:"of repaired: what was found to be the cause"`
		Text    string    `json:"text,omitempty" maxLength:"4000"`
		Due     time.Time `json:"due,omitempty" doc:"when it is meant to be seen to"`
		Version int64     `json:"version,omitempty" doc:"of the case as it was seen; refused when it has moved on"`
	}
}) (*struct{ Body caseView }, error) {
	act := care.Act(in.Body.Act)
	if !act.ByPeople() {
		if _, err := a.caseAt(ctx, in.Case, care.SeeLife); err != nil {
			return nil, err
		}
		return nil, huma.Error422UnprocessableEntity("there is no such act of people; can of the case lists those that are possible now")
	}
	if _, err := a.caseAt(ctx, in.Case, act.Needs()); err != nil {
		return nil, err
	}
	b := in.Body
	c, err := a.Cases.Act(ctx, a.asker(ctx), in.Case, Doing{act, b.Alert, detect.Cause(b.Cause), b.Text, b.Due, b.Version})
	if err != nil {
		return nil, a.fail(err, "case")
	}
	return &struct{ Body caseView }{a.viewOfCase(ctx, c)}, nil
}

func (a *API) listConfirmations(ctx context.Context, in *struct {
	Firm string `query:"firm" doc:"whose; one's own when not given"`
}) (*struct{ Body page[Confirmation] }, error) {
	firm, err := a.firmFor(ctx, in.Firm)
	if err != nil {
		return nil, err
	}
	all, err := a.Cases.Confirmations(ctx, firm)
	if err != nil {
		return nil, a.fail(err, "firm")
	}
	return &struct{ Body page[Confirmation] }{page[Confirmation]{Items: append([]Confirmation{}, all...)}}, nil
}

// firmFor is a firm whose experience one may see: one that one settles cases in.
func (a *API) firmFor(ctx context.Context, firm string) (string, error) {
	p, signed := access.From(ctx)
	if firm == "" {
		firm = a.asker(ctx).Firm
	}
	if !signed {
		return firm, nil
	}
	if p.Role.Reach(care.Settle) == care.Nowhere {
		return "", forbidden()
	}
	return firm, a.in(ctx, firm, care.SeePeople)
}

func (a *API) undoConfirmation(ctx context.Context, in *struct {
	ID int64 `path:"id"`
}) (*nothing, error) {
	p := a.asker(ctx)
	firm, err := a.firmFor(ctx, "")
	if err != nil {
		return nil, err
	}
	if !access.May(ctx, care.Settle, care.Place{Firm: firm}) {
		return nil, forbidden()
	}
	all, err := a.Cases.Confirmations(ctx, firm)
	if err != nil {
		return nil, a.fail(err, "confirmation")
	}
	err = care.ErrNone
	for _, c := range all {
		if c.ID == in.ID {
			err = a.Cases.Undo(ctx, p, in.ID)
		}
	}
	if err != nil && !errors.Is(err, care.ErrNone) {
		a.Logger.Warn("a confirmation was not undone", "error", err)
	}
	return &nothing{}, a.fail(err, "confirmation")
}
