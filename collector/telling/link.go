package telling

import (
	"context"
	"fmt"
	"time"

	"brinebell/detect/care"
)

// SendLink mails a one-time link at once. Until is when it ends; first says that
// the person is new here.
func (t *Teller) SendLink(ctx context.Context, p care.Person, url string, until time.Time, first bool) error {
	subject, what := "Set a new password", "Somebody, most likely you, asked for a new password."
	if first {
		subject, what = "You have been added: set a password", "You have been added to those who look after homes here."
	}
	loc := time.UTC
	if own, err := time.LoadLocation(p.Timezone); err == nil {
		loc = own
	}
	return t.SendMail(ctx, p.Email, subject, fmt.Sprintf("%s Set a password at\n\n%s\n\nThe link works once, until %s. If you did not expect this, do nothing: without the link nothing changes.\n",
		what, url, until.In(loc).Format("2 January 15:04 MST")))
}
