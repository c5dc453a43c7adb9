package telling

import (
	"fmt"
	"html/template"
	"strings"
)

// lines are an item as paragraphs, the first what is wrong.
func (i item) lines() (out []string) {
	for _, p := range []struct{ before, text string }{{"", i.What}, {"What to do now: ", i.Do}, {"Be careful: ", i.Careful}, {"How sure: ", i.Sure},
		{"", i.Cost}, {"", i.Since}, {"", i.State}, {"More, and what to tell us: ", i.Link}} {
		if p.text != "" {
			out = append(out, p.before+p.text)
		}
	}
	return out
}

// text is the letter as plain text.
func (l letter) text() string {
	var b strings.Builder
	for n, i := range l.items {
		if len(l.items) > 1 {
			fmt.Fprintf(&b, "%d. %s\n\n", n+1, i.Heading)
		}
		b.WriteString(strings.Join(i.lines(), "\n\n") + "\n\n")
	}
	b.WriteString("-- \n" + l.foot() + "\n")
	return b.String()
}

// foot says why somebody gets this, and what its absence would not mean.
func (l letter) foot() string {
	return "You get this because you are told about this home. When and how, you set on the pages. That no message comes is no proof that nothing leaks."
}

var page = template.Must(template.New("mail").Parse(`<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><title>{{.Subject}}</title></head>
<body style="font:16px/1.5 system-ui,sans-serif;max-width:40em;margin:0 auto;padding:1em">
{{range $n, $i := .Items}}<h1 style="font-size:1.2em">{{.Heading}}</h1>
<p><strong>{{.What}}</strong></p>
{{if .Do}}<p><strong>What to do now:</strong> {{.Do}}</p>
{{end}}{{if .Careful}}<p><strong>Be careful:</strong> {{.Careful}}</p>
{{end}}{{if and (eq $n 0) $.Picture}}<p><img src="cid:evidence" alt="{{$.Says}}" width="640" style="max-width:100%;height:auto"></p>
{{end}}{{if .Sure}}<p><strong>How sure:</strong> {{.Sure}}</p>
{{end}}{{if .Cost}}<p>{{.Cost}}</p>
{{end}}{{if .Since}}<p>{{.Since}}</p>
{{end}}{{if .State}}<p>{{.State}}</p>
{{end}}{{if .Link}}<p><a href="{{.Link}}">More, and what to tell us</a></p>
{{end}}{{end}}<p style="font-size:.85em;color:#555">{{.Foot}}</p>
</body></html>
`))

// html is the letter as a page.
func (l letter) html() (string, error) {
	var b strings.Builder
	err := page.Execute(&b, map[string]any{"Subject": l.subject, "Items": l.items, "Picture": l.picture != nil, "Says": l.says, "Foot": l.foot()})
	return b.String(), err
}

// The lengths of a short message, in characters: of it all, and of what one item
// says besides its link.
const (
	maxShort = 1000
	maxBrief = 400
)

// short is the letter for chats and text messages. Its number at the end tells a
// message that came twice.
func (l letter) short() string {
	var b strings.Builder
	for n, i := range l.items {
		said := i.What
		if i.Do != "" {
			said += " Now: " + i.Do
		}
		if i.Careful != "" {
			said += " Be careful: " + i.Careful
		}
		part := cut(said, maxBrief)
		if len(l.items) > 1 {
			part = cut(i.Heading, maxLine)
		}
		if i.Link != "" && n == 0 {
			part += "\n" + i.Link
		}
		if len([]rune(b.String()))+len([]rune(part)) > maxShort {
			fmt.Fprintf(&b, "and %d more\n", len(l.items)-n)
			break
		}
		b.WriteString(part + "\n")
	}
	return b.String() + "(message " + l.id[:min(8, len(l.id))] + ")"
}

func cut(text string, most int) string {
	if runes := []rune(text); len(runes) > most {
		return string(runes[:most-1]) + "…"
	}
	return text
}
