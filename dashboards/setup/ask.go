package setup

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"

	"brinebell/detect/fleet"
)

// prefix is where the interface for programs is.
const prefix = "/api/v1"

// answer is what the interface gives.
type answer struct {
	header http.Header
	status int
	body   bytes.Buffer
}

// Header is of the answer.
func (a *answer) Header() http.Header { return a.header }

// WriteHeader keeps the status.
func (a *answer) WriteHeader(status int) { a.status = status }

// Write keeps a piece of the body.
func (a *answer) Write(b []byte) (int, error) { return a.body.Write(b) }

// ask makes a call for whoever asks for the page. The problem is what is wrong,
// line by line, when it is the asker's to mend; err what they cannot.
func (s *Server) ask(r *http.Request, method, path, kind string, body []byte, into any) (problem []string, err error) {
	call, err := http.NewRequestWithContext(context.WithoutCancel(r.Context()), method, prefix+path, bytes.NewReader(body)) // #nosec G704 -- answered in this process, never sent: the path is made of escaped parts
	if err != nil {
		return nil, err
	}
	call.RemoteAddr = r.RemoteAddr
	call.Header.Set("Content-Type", kind)
	a := &answer{header: http.Header{}, status: http.StatusOK}
	s.API.ServeHTTP(a, call)
	switch {
	case a.status == http.StatusNotFound:
		return nil, errNone
	case a.status == http.StatusForbidden:
		return nil, errNotAllowed
	case a.status >= http.StatusInternalServerError:
		return nil, fmt.Errorf("%s %s: %d", method, path, a.status)
	case a.status >= http.StatusBadRequest:
		return problemOf(a.body.Bytes()), nil
	}
	if into == nil {
		return nil, nil
	}
	return nil, json.Unmarshal(a.body.Bytes(), into)
}

func problemOf(body []byte) []string {
	var p struct {
		Detail string
		Errors []struct{ Message, Location string }
	}
	if err := json.Unmarshal(body, &p); err != nil {
		return []string{"This could not be taken."}
	}
	lines := []string{p.Detail}
	for _, e := range p.Errors {
		lines = append(lines, strings.TrimPrefix(e.Location+": "+e.Message, ": "))
	}
	return lines
}

func asJSON(v any) []byte {
	text, err := json.Marshal(v)
	if err != nil {
		panic(err) // of texts
	}
	return text
}

// home, device and the rest are what the interface says of them.
type home struct{ ID, Name, Timezone, Firm, Area string }

type device struct {
	ID, Name, Login, Topic, Secret string
	Topics                         []string
	Password, Disabled             bool
}

type sensor struct {
	Signal, Unit string
	Time         string
	Value        float64
}

type report struct {
	Homes, Added int
	Bad          []fleet.Bad
	Devices      []device
}
