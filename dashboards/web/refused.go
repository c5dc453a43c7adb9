package web

import (
	"net/http"
	"strings"
	"time"
	"unicode/utf8"

	"brinebell/detect"
)

// Refused is what one topic sent that could not be used, for one reason.
type Refused struct {
	Topic, Reason, Detail string
	Payload               []byte // the newest, perhaps cut
	Count                 int    // since First
	First, Last           time.Time
}

// refusedView is what came in and could not be used.
type refusedView struct {
	Title, Sentence string
	Rows            []refusedRow
}

func (refusedView) template() string  { return "refused" }
func (v refusedView) heading() string { return v.Title }

type refusedRow struct{ Topic, Why, Hint, Detail, Payload, Times, Last string }

// refusedShown bounds the rows of the page.
const refusedShown = 100

func (s *Server) refused(r *http.Request) (view, error) {
	a := askerOf(r.Context())
	if s.Refused == nil || !s.runs(a) {
		return nil, errNoPage
	}
	all, read := s.Refused(), a.reads(detect.Home{})
	v := refusedView{Title: read.Say("refused.title"), Sentence: read.Say("refused.sentence", "n", len(all))}
	if len(all) == 0 {
		v.Sentence = read.Say("refused.none")
	}
	for _, q := range all[:min(len(all), refusedShown)] {
		v.Rows = append(v.Rows, refusedRow{q.Topic, read.Or("refused.reason."+q.Reason, spoken(q.Reason)), read.Or("refused.hint."+q.Reason, ""), q.Detail, printable(q.Payload),
			read.Say("refused.times", "n", q.Count), read.moment(q.Last)})
	}
	return v, nil
}

// payloadShown is how much of a message is shown, bytes.
const payloadShown = 200

// printable is a message's beginning as text, with what cannot be printed left
// out.
func printable(payload []byte) string {
	text := string(payload[:min(len(payload), payloadShown)])
	if !utf8.ValidString(text) {
		text = strings.ToValidUTF8(text, "·")
	}
	return strings.Map(func(r rune) rune {
		if r < ' ' {
			return ' '
		}
		return r
	}, text)
}
