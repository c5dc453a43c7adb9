package api

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"net/netip"
	"sync"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humago"

	"brinebell/dashboards/access"
	"brinebell/detect/care"
	"brinebell/detect/cause"
)

// Prefix is where the interface is.
const Prefix = "/api/v1"

// Options are the settings of an API. Homes must be set.
type Options struct {
	Homes Homes
	Cases Cases // nil when none are kept
	// People are the accounts; nil where nobody has to sign in, and then there
	// are no operations on them.
	People People
	// ActsAs is who acts on cases where nobody has to sign in.
	ActsAs care.Person
	// Model weighs causes; cause.Standard() when nil.
	Model *cause.Model
	// LinkURL is the address of the page of a link by which a password is set,
	// and SendLink sends it; nil when there is no mail.
	LinkURL  func(secret string) string
	SendLink func(ctx context.Context, p care.Person, link string, until time.Time, first bool) error
	Proxies  []netip.Prefix // see access.Address
	Version  string         // of the program
	Now      func() time.Time
	Logger   *slog.Logger
}

// API answers programs.
type API struct {
	Options
	huma    huma.API
	handler http.Handler
	done    chan struct{} // closed when streams must end
	once    sync.Once     // guards the closing of done
	writing sync.Mutex    // held from the check of If-Match until what it guards is done
}

// New makes the interface. It starts nothing.
func New(o Options) (*API, error) {
	if o.Homes == nil {
		return nil, errors.New("api: no homes")
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	if o.Model == nil {
		o.Model = cause.Standard()
	}
	if o.LinkURL == nil {
		o.LinkURL = func(secret string) string { return "/link/" + secret }
	}
	a := &API{Options: o, done: make(chan struct{})}
	mux := http.NewServeMux()
	config := huma.DefaultConfig("Brinebell", o.Version)
	config.Info.Description = "Household water softeners: homes, their books, troubles and people. Times are RFC 3339 in UTC; values are in canonical units (L, L/min, mm, kPa, W, mg/L as CaCO3)."
	config.DocsPath, config.SchemasPath, config.CreateHooks = "", "", nil // its page would fetch scripts from elsewhere
	config.RejectUnknownQueryParameters = true
	config.Components.SecuritySchemes = map[string]*huma.SecurityScheme{"token": {Type: "http", Scheme: "bearer"}}
	config.Security = []map[string][]string{{"token": {}}}
	config.OpenAPIPath = Prefix + "/openapi"
	a.huma = humago.New(mux, config)
	a.register()
	mux.HandleFunc(Prefix+"/", func(w http.ResponseWriter, r *http.Request) {
		problem(w, http.StatusNotFound, "There is no such operation.")
	})
	a.handler = a.tagged(mux)
	return a, nil
}

// Handler answers everything under Prefix.
func (a *API) Handler() http.Handler { return a.handler }

// Close ends the streams, which otherwise hold up a graceful stop of the HTTP
// server: hand it to http.Server.RegisterOnShutdown.
func (a *API) Close() { a.once.Do(func() { close(a.done) }) }

func (a *API) register() {
	a.registerHomes()
	a.registerFleet()
	a.registerLife()
	a.registerStreams()
	if a.Cases != nil {
		a.registerCases()
		a.registerReports()
	}
	if a.People == nil {
		return
	}
	a.registerDevices()
	a.registerPeople()
	a.registerTokens()
	a.registerFirms()
	a.registerAudit()
}

// op describes an operation.
func op(method, path, id, summary string, status int) huma.Operation {
	problems := []int{http.StatusUnauthorized, http.StatusForbidden, http.StatusNotFound, http.StatusInternalServerError}
	if method == http.MethodGet {
		problems = append(problems, http.StatusServiceUnavailable)
	} else {
		problems = append(problems, http.StatusConflict, http.StatusPreconditionFailed, http.StatusRequestEntityTooLarge)
	}
	return huma.Operation{Method: method, Path: Prefix + path, OperationID: id, Summary: summary, DefaultStatus: status, Errors: problems, MaxBodyBytes: maxBody}
}

// maxBody is the largest that a call may send, but for a fleet's table.
const maxBody = 1 << 20

// asker is who asks, or who acts where nobody has to sign in.
func (a *API) asker(ctx context.Context) care.Person {
	if p, ok := access.From(ctx); ok {
		return p
	}
	return a.ActsAs
}
