package access

import (
	"errors"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"path"
	"strings"
	"time"

	"brinebell/detect/care"
)

// leastPassword is told to whoever chooses one; what will do is decided by who
// keeps the accounts.
const leastPassword = 15

// ours says whether a path is of the gate's own pages.
func ours(p string) bool {
	return p == "/sign-in" || p == "/sign-in/style.css" || p == "/sign-out" || p == "/forgotten" || strings.HasPrefix(p, "/link/")
}

func (g *Gate) routes() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /sign-in", g.askSignIn)
	mux.HandleFunc("POST /sign-in", g.doSignIn)
	mux.HandleFunc("POST /sign-out", g.doSignOut)
	mux.HandleFunc("GET /link/{secret}", g.askLink)
	mux.HandleFunc("POST /link/{secret}", g.doLink)
	mux.HandleFunc("GET /forgotten", g.askForgotten)
	mux.HandleFunc("POST /forgotten", g.doForgotten)
	mux.HandleFunc("GET /sign-in/style.css", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("X-Content-Type-Options", "nosniff")
		http.ServeFileFS(w, r, files, "static/style.css")
	})
	return mux
}

func (g *Gate) askSignIn(w http.ResponseWriter, r *http.Request) {
	g.show(w, http.StatusOK, "signin", view{Heading: "Sign in", To: inside(r.URL.Query().Get("to"))})
}

// inside is an address of these pages, or the first one: nobody is sent
// elsewhere after signing in.
func inside(to string) string {
	u, err := url.Parse(to)
	if err != nil || u.IsAbs() || u.Host != "" || !strings.HasPrefix(u.Path, "/") || strings.HasPrefix(path.Clean(u.Path), "//") ||
		strings.ContainsAny(to, "\\\r\n\t") || strings.HasPrefix(to, "//") || ours(u.Path) {
		return "/"
	}
	return to
}

func (g *Gate) doSignIn(w http.ResponseWriter, r *http.Request) {
	if !readForm(w, r) {
		return
	}
	v := view{Heading: "Sign in", Email: r.PostFormValue("email"), To: inside(r.PostFormValue("to"))}
	address := Address(r, g.Proxies)
	if wait := g.throttle.Try(v.Email, address); wait > 0 {
		v.Trouble = "Too many attempts. Try again in " + minutes(wait) + "."
		w.Header().Set("Retry-After", fmt.Sprint(int(math.Ceil(wait.Seconds()))))
		g.show(w, http.StatusTooManyRequests, "signin", v)
		return
	}
	p, epoch, err := g.Accounts.SignIn(r.Context(), v.Email, r.PostFormValue("password"))
	if err == nil {
		err = g.signIn(r.Context(), p, epoch)
	}
	switch {
	case errors.Is(err, care.ErrWrong):
		g.Logger.Warn("somebody could not sign in", "address", address)
		v.Trouble = "This address and password do not belong together."
		g.show(w, http.StatusUnauthorized, "signin", v)
	case err != nil:
		g.fail(w, err)
	default:
		g.throttle.Succeeded(v.Email, address)
		g.note(r.Context(), p, address.String(), "signed in")
		http.Redirect(w, r, v.To, http.StatusSeeOther)
	}
}

func minutes(d time.Duration) string {
	n := int(math.Ceil(d.Minutes()))
	if n == 1 {
		return "a minute"
	}
	return fmt.Sprintf("%d minutes", n)
}

func (g *Gate) doSignOut(w http.ResponseWriter, r *http.Request) {
	if err := g.sessions.Destroy(r.Context()); err != nil {
		g.fail(w, err)
		return
	}
	// What a shared machine keeps of the pages goes too.
	w.Header().Set("Clear-Site-Data", `"cache", "storage"`)
	http.Redirect(w, r, "/sign-in", http.StatusSeeOther)
}

// readForm reads what was sent, or says why not.
func readForm(w http.ResponseWriter, r *http.Request) bool {
	err := r.ParseForm()
	if err == nil {
		return true
	}
	status := http.StatusBadRequest
	if tooLarge := (*http.MaxBytesError)(nil); errors.As(err, &tooLarge) {
		status = http.StatusRequestEntityTooLarge
	}
	refuse(w, r, status, "What was sent could not be read.")
	return false
}

func (g *Gate) fail(w http.ResponseWriter, err error) {
	g.Logger.Error("accounts are not to be had", "error", err)
	g.show(w, http.StatusInternalServerError, "message", view{Heading: "Not just now",
		Sentence: "Accounts could not be read just now. Try again in a minute; if it stays so, the log says why.", Link: "/sign-in", LinkText: "Sign in"})
}
