package api

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"brinebell/dashboards/access"
	"brinebell/detect"
	"brinebell/detect/care"
)

// inviteTime leaves a weekend between a mail and its being read.
const inviteTime = 4 * 24 * time.Hour

// PersonBody is what is said of a person.
type PersonBody struct {
	Firm     string   `json:"firm" doc:"empty for operators"`
	Role     string   `json:"role" enum:"household,technician,manager,operator"`
	Email    string   `json:"email" maxLength:"120"`
	Homes    []string `json:"homes,omitempty" maxItems:"1000" doc:"of a household; others see every home of their firm"`
	Disabled bool     `json:"disabled,omitempty"`
	OwnBody
}

// OwnBody is what everybody may say of themselves.
type OwnBody struct {
	Name     string        `json:"name" maxLength:"120"`
	Units    string        `json:"units,omitempty" enum:"metric,us," doc:"empty follows the home"`
	Language string        `json:"language,omitempty" maxLength:"35" doc:"BCP 47"`
	Timezone string        `json:"timezone,omitempty" maxLength:"64" doc:"IANA; empty follows the home"`
	Channels []channelView `json:"channels,omitempty" maxItems:"20" doc:"where they are told, besides the pages"`
}

type personView struct {
	ID string `json:"id"`
	PersonBody
}

func (a *API) registerPeople() {
	huma.Register(a.huma, op("GET", "/me", "get-me", "Who asks", 200), a.getMe)
	huma.Register(a.huma, op("PUT", "/me", "put-me", "Change what one may say of oneself", 204), a.putMe)
	huma.Register(a.huma, op("GET", "/people", "list-people", "People of one's firm; of all for operators", 200), a.listPeople)
	huma.Register(a.huma, op("POST", "/people", "add-person", "Add a person, who sets a password by a link", 201), a.addPerson)
	huma.Register(a.huma, op("GET", "/people/{person}", "get-person", "A person", 200), a.getPerson)
	huma.Register(a.huma, op("PUT", "/people/{person}", "put-person", "Change a person", 204), a.putPerson)
	huma.Register(a.huma, op("DELETE", "/people/{person}", "remove-person", "Remove a person", 204), a.removePerson)
	huma.Register(a.huma, op("POST", "/people/{person}/link", "send-link", "Make a link by Which a person sets a password; sent to them where there is mail", 200), a.sendLink)
}

func viewOfPerson(p care.Person) personView {
	v := personView{p.ID, PersonBody{p.Firm, string(p.Role), p.Email, append([]string{}, p.Homes...), p.Disabled,
		OwnBody{p.Name, string(p.Units), p.Language, p.Timezone, []channelView{}}}}
	for _, c := range p.Channels {
		v.Channels = append(v.Channels, viewOfChannel(c))
	}
	return v
}

// apply puts what is said into a person.
func (b OwnBody) apply(p *care.Person) error {
	p.Name, p.Units, p.Language, p.Timezone = b.Name, detect.Units(b.Units), b.Language, b.Timezone
	before := p.Channels
	p.Channels = nil
	for _, v := range b.Channels {
		c, err := v.channel(before)
		if err != nil {
			return err
		}
		p.Channels = append(p.Channels, c)
	}
	return nil
}

type personAnswer struct{ Body personView }

func (a *API) getMe(ctx context.Context, _ *struct{}) (*personAnswer, error) {
	p, ok := access.From(ctx)
	if !ok {
		return nil, a.fail(care.ErrNone, "account")
	}
	return &personAnswer{viewOfPerson(p)}, nil
}

func (a *API) putMe(ctx context.Context, in *struct{ Body OwnBody }) (*nothing, error) {
	p, ok := access.From(ctx)
	if !ok {
		return nil, a.fail(care.ErrNone, "account")
	}
	if access.ByToken(ctx) { // where alerts go is not for a program that only reads, or sets up devices
		if !access.May(ctx, care.OwnTokens, care.Place{Firm: p.Firm}) {
			return nil, forbidden()
		}
	}
	if err := in.Body.apply(&p); err != nil {
		return nil, err
	}
	if err := a.People.Change(ctx, p); err != nil {
		return nil, a.fail(err, "account")
	}
	a.note(ctx, care.Deed{Firm: p.Firm, Act: "person changed", Subject: p.ID})
	return &nothing{}, nil
}

func (a *API) listPeople(ctx context.Context, in *struct {
	Paging
	Firm string `query:"firm" doc:"only of this firm"`
}) (*pageOf[personView], error) {
	p, signed := access.From(ctx)
	if in.Firm == "" && signed && p.Role != care.Operator {
		in.Firm = p.Firm
	}
	if err := a.in(ctx, in.Firm, care.SeePeople); err != nil {
		return nil, err
	}
	all, err := a.People.People(ctx, in.Firm)
	if err != nil {
		return nil, a.fail(err, "firm")
	}
	slices.SortFunc(all, func(a, b care.Person) int { return slices.Compare([]string{a.Name, a.ID}, []string{b.Name, b.ID}) })
	views := make([]personView, len(all))
	for i, p := range all {
		views[i] = viewOfPerson(p)
	}
	return slice(views, func(v personView) string { return v.Name + "\x00" + v.ID }, in.Paging)
}

type PersonPath struct {
	Person string `path:"person" maxLength:"100" doc:"id of the person"`
}

// person is somebody, when who asks may do an action to them. One of another
// firm is not there.
func (a *API) person(ctx context.Context, id string, action care.Action) (care.Person, error) {
	p, err := a.People.Person(ctx, id)
	if err != nil {
		return p, a.fail(err, "person")
	}
	asker, signed := access.From(ctx)
	at := care.Place{Firm: p.Firm}
	switch own := signed && asker.ID == p.ID; {
	case own && !action.Changes():
		return p, nil
	case p.Role == care.Operator && !access.May(ctx, care.SetUpFirms, care.Place{}):
		if own {
			return p, forbidden()
		}
		return p, a.fail(care.ErrNone, "person")
	case access.May(ctx, action, at):
		return p, nil
	case own || access.May(ctx, care.SeePeople, at) || access.ByToken(ctx) && asker.May(care.SeePeople, at):
		return p, forbidden()
	}
	return p, a.fail(care.ErrNone, "person")
}

func (a *API) getPerson(ctx context.Context, in *PersonPath) (*personAnswer, error) {
	p, err := a.person(ctx, in.Person, care.SeePeople)
	if err != nil {
		return nil, err
	}
	return &personAnswer{viewOfPerson(p)}, nil
}

// checkBody says whether who asks may make somebody what a body says.
func (a *API) checkBody(ctx context.Context, b PersonBody) error {
	if care.Role(b.Role) == care.Operator {
		if !access.May(ctx, care.SetUpFirms, care.Place{}) {
			return forbidden()
		}
		return nil
	}
	if b.Firm == "" {
		return huma.Error422UnprocessableEntity("everybody but an operator belongs to a firm")
	}
	if err := a.in(ctx, b.Firm, care.SetUpPeople); err != nil {
		return err
	}
	for _, home := range b.Homes {
		// Another firm's home must look like none.
		if at, err := a.place(ctx, home); err != nil || at.Firm != b.Firm {
			return huma.Error422UnprocessableEntity(fmt.Sprintf("the firm has no home %q", home))
		}
	}
	return nil
}

func (a *API) addPerson(ctx context.Context, in *struct{ Body PersonBody }) (*personAnswer, error) {
	if err := a.checkBody(ctx, in.Body); err != nil {
		return nil, err
	}
	p := care.Person{Firm: in.Body.Firm, Role: care.Role(in.Body.Role), Email: in.Body.Email, Homes: in.Body.Homes, Disabled: in.Body.Disabled}
	if err := in.Body.apply(&p); err != nil {
		return nil, err
	}
	p, err := a.People.Add(ctx, p)
	if err != nil {
		return nil, a.fail(err, "firm")
	}
	a.note(ctx, care.Deed{Firm: p.Firm, Act: "person added", Subject: p.ID, Detail: string(p.Role)})
	return &personAnswer{viewOfPerson(p)}, nil
}

func (a *API) putPerson(ctx context.Context, in *struct {
	PersonPath
	Body PersonBody
}) (*nothing, error) {
	p, err := a.person(ctx, in.Person, care.SetUpPeople)
	if err != nil {
		return nil, err
	}
	if err := a.checkBody(ctx, in.Body); err != nil {
		return nil, err
	}
	b := in.Body
	if self, _ := access.From(ctx); self.ID == p.ID && (b.Disabled || care.Role(b.Role) != p.Role || b.Firm != p.Firm) {
		return nil, huma.Error409Conflict("Nobody disables or moves themselves, or else nobody might be left: ask another.")
	}
	p.Firm, p.Role, p.Email, p.Homes, p.Disabled = b.Firm, care.Role(b.Role), b.Email, b.Homes, b.Disabled
	if err := b.apply(&p); err != nil {
		return nil, err
	}
	if err := a.People.Change(ctx, p); err != nil {
		return nil, a.fail(err, "person")
	}
	a.note(ctx, care.Deed{Firm: p.Firm, Act: "person changed", Subject: p.ID, Detail: string(p.Role)})
	return &nothing{}, nil
}

func (a *API) removePerson(ctx context.Context, in *PersonPath) (*nothing, error) {
	p, err := a.person(ctx, in.Person, care.SetUpPeople)
	if err != nil {
		return nil, err
	}
	if self, _ := access.From(ctx); self.ID == p.ID {
		return nil, huma.Error409Conflict("Nobody removes themselves, or else nobody might be left: ask another.")
	}
	if err := a.People.Remove(ctx, p.ID); err != nil {
		return nil, a.fail(err, "person")
	}
	a.note(ctx, care.Deed{Firm: p.Firm, Act: "person removed", Subject: p.ID})
	return &nothing{}, nil
}

type linkView struct {
	Sent    bool      `json:"sent" doc:"to their e-mail address"`
	Link    string    `json:"link,omitempty" doc:"where there is no mail: hand it over yourself; whoever has it signs in as that person"`
	Expires time.Time `json:"expires"`
}

func (a *API) sendLink(ctx context.Context, in *PersonPath) (*struct{ Body linkView }, error) {
	p, err := a.person(ctx, in.Person, care.SetUpPeople)
	if err != nil {
		return nil, err
	}
	secret, err := a.People.Invite(ctx, p.ID, inviteTime)
	if err != nil {
		return nil, a.fail(err, "person")
	}
	v := linkView{Expires: a.Now().Add(inviteTime).UTC()}
	if a.SendLink == nil {
		v.Link = a.LinkURL(secret)
	} else if err := a.SendLink(ctx, p, a.LinkURL(secret), v.Expires, true); err != nil {
		return nil, a.fail(err, "person")
	} else {
		v.Sent = true
	}
	a.note(ctx, care.Deed{Firm: p.Firm, Act: "link made", Subject: p.ID})
	return &struct{ Body linkView }{v}, nil
}
