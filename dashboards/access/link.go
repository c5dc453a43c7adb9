package access

import (
	"errors"
	"net/http"
	"strings"

	"brinebell/detect/care"
)

func (g *Gate) askLink(w http.ResponseWriter, r *http.Request) {
	p, err := g.Accounts.ByLink(r.Context(), r.PathValue("secret"))
	if err != nil {
		g.deadLink(w, err)
		return
	}
	g.show(w, http.StatusOK, "link", linkView(p))
}

func linkView(p care.Person) view {
	if p.Email == care.Newcomer {
		return view{Heading: "The first account", Least: leastPassword, First: true}
	}
	return view{Heading: "Choose a password", Name: p.Name, Email: p.Email, Least: leastPassword}
}

// deadLink answers for every link that is no good in the same way.
func (g *Gate) deadLink(w http.ResponseWriter, err error) {
	if !errors.Is(err, care.ErrWrong) {
		g.fail(w, err)
		return
	}
	v := view{Heading: "This link is no longer good", Sentence: "A link works once and for a limited time. Ask whoever sent it for another.", Link: "/sign-in", LinkText: "Sign in"}
	if g.Mailer != nil {
		v.Sentence, v.Link, v.LinkText = "A link works once and for a limited time. Have another one sent to you.", "/forgotten", "Send me another link"
	}
	g.show(w, http.StatusNotFound, "message", v)
}

func (g *Gate) doLink(w http.ResponseWriter, r *http.Request) {
	if !readForm(w, r) {
		return
	}
	secret, password := r.PathValue("secret"), r.PostFormValue("password")
	p, err := g.Accounts.ByLink(r.Context(), secret)
	if err != nil {
		g.deadLink(w, err)
		return
	}
	v := linkView(p)
	if v.First {
		v.Name, v.Email = strings.TrimSpace(r.PostFormValue("name")), strings.TrimSpace(r.PostFormValue("email"))
	}
	if password != r.PostFormValue("again") {
		v.Trouble = "The two passwords are not the same."
		g.show(w, http.StatusUnprocessableEntity, "link", v)
		return
	}
	if v.First {
		err = g.Accounts.Introduce(r.Context(), secret, v.Name, v.Email)
	}
	var epoch int64
	if err == nil {
		p, epoch, err = g.Accounts.UseLink(r.Context(), secret, password)
	}
	if errors.Is(err, care.ErrBad) {
		v.Trouble = sentence(err)
		g.show(w, http.StatusUnprocessableEntity, "link", v)
		return
	}
	if err != nil {
		g.deadLink(w, err)
		return
	}
	if err := g.signIn(r.Context(), p, epoch); err != nil {
		g.fail(w, err)
		return
	}
	g.note(r.Context(), p, Address(r, g.Proxies).String(), "password set")
	http.Redirect(w, r, "/", http.StatusSeeOther)
}

// sentence is what an error says of what was given, as a sentence.
func sentence(err error) string {
	text := strings.TrimPrefix(err.Error(), care.ErrBad.Error()+": ")
	return strings.ToUpper(text[:1]) + text[1:] + "."
}

func (g *Gate) askForgotten(w http.ResponseWriter, r *http.Request) {
	g.show(w, http.StatusOK, "forgotten", view{Heading: "Forgotten password"})
}

func (g *Gate) doForgotten(w http.ResponseWriter, r *http.Request) {
	if !readForm(w, r) {
		return
	}
	email, address := strings.TrimSpace(r.PostFormValue("email")), Address(r, g.Proxies)
	// One throttle for both doors would let a reminder use up sign-ins.
	if wait := g.throttle.Try("link "+email, address); wait == 0 && g.Mailer != nil {
		select {
		case g.forgotten <- request{email, address.String()}:
		default: // many at once: asked again, it is seen to
		}
	}
	g.show(w, http.StatusOK, "message", view{Heading: "Look into your mail",
		Sentence: "If there is an account with this address, a link is under way to it. It is good for an hour.", Link: "/sign-in", LinkText: "Sign in"})
}
