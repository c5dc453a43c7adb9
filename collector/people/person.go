package people

import (
	"context"
	"crypto/rand"
	"database/sql"
	"errors"
	"fmt"
	"net/mail"
	"slices"
	"strings"
	"time"

	"brinebell/detect"
	"brinebell/detect/care"
)

// Add adds a person, who cannot sign in until a link of Invite was used, and
// returns the person with the id that was given.
func (s *Store) Add(ctx context.Context, p care.Person) (care.Person, error) {
	p.ID = strings.ToLower(rand.Text())
	p.Email = strings.TrimSpace(p.Email)
	if err := check(p); err != nil {
		return p, bad(err)
	}
	now := s.now().UnixNano()
	err := s.db.Transact(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT INTO people (id, firm, role, name, email, units, language, timezone, disabled, epoch, created, updated)
			VALUES (?, nullif(?, ''), ?, ?, ?, ?, ?, ?, ?, 0, ?, ?)`, p.ID, p.Firm, string(p.Role), p.Name, p.Email, string(p.Units), p.Language, p.Timezone, p.Disabled, now, now)
		if err != nil {
			return err
		}
		return saveParts(ctx, tx, p)
	})
	return p, unknownFirm(taken(err), p.Firm)
}

// unknownFirm says which firm there is not.
func unknownFirm(err error, firm string) error {
	if err != nil && strings.Contains(err.Error(), "FOREIGN KEY constraint failed") {
		return fmt.Errorf("firm %q: %w", firm, care.ErrNone)
	}
	return err
}

// Change stores what is different of a person. Disabling, and another role or
// firm, end the person's sessions.
func (s *Store) Change(ctx context.Context, p care.Person) error {
	p.Email = strings.TrimSpace(p.Email)
	if err := check(p); err != nil {
		return bad(err)
	}
	err := s.db.Transact(ctx, func(tx *sql.Tx) error {
		result, err := tx.ExecContext(ctx, `UPDATE people SET
				epoch = epoch + ((coalesce(firm, ''), role, disabled) <> (?2, ?3, ?9)),
				firm = nullif(?2, ''), role = ?3, name = ?4, email = ?5, units = ?6, language = ?7, timezone = ?8, disabled = ?9, updated = ?10
			WHERE id = ?1`, p.ID, p.Firm, string(p.Role), p.Name, p.Email, string(p.Units), p.Language, p.Timezone, p.Disabled, s.now().UnixNano())
		if err != nil {
			return err
		}
		if n, err := result.RowsAffected(); err != nil || n == 0 {
			return errors.Join(err, care.ErrNone)
		}
		for _, statement := range []string{`DELETE FROM person_homes WHERE person = ?`, `DELETE FROM channels WHERE person = ?`} {
			if _, err := tx.ExecContext(ctx, statement, p.ID); err != nil {
				return err
			}
		}
		return saveParts(ctx, tx, p)
	})
	return unknownFirm(taken(err), p.Firm)
}

func saveParts(ctx context.Context, tx *sql.Tx, p care.Person) error {
	for _, home := range p.Homes {
		if _, err := tx.ExecContext(ctx, `INSERT INTO person_homes (person, home) VALUES (?, ?)`, p.ID, home); err != nil {
			return err
		}
	}
	for i, c := range p.Channels {
		if _, err := tx.ExecContext(ctx, `INSERT INTO channels (person, position, kind, target, secret, "from", "to", least, digest) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`,
			p.ID, i, string(c.Kind), c.Target, c.Secret, int64(c.From), int64(c.To), string(c.Least), c.Digest); err != nil {
			return err
		}
	}
	return nil
}

// Remove removes a person with everything of theirs. What they did stays in the
// audit trail, under their id alone.
func (s *Store) Remove(ctx context.Context, id string) error {
	return s.must(ctx, `DELETE FROM people WHERE id = ?`, id)
}

// check says what is wrong with a person, in words for whoever adds them.
func check(p care.Person) error {
	if err := checkName(p.Name); err != nil {
		return err
	}
	if a, err := mail.ParseAddress(p.Email); err != nil || a.Address != p.Email || len(p.Email) > maxName {
		return errors.New("the e-mail address is not one, as in ann@example.org")
	}
	switch {
	case !slices.Contains(care.Roles(), p.Role):
		return fmt.Errorf("the role %q is not one of household, technician, manager and operator", p.Role)
	case (p.Role == care.Operator) != (p.Firm == ""):
		return errors.New("everybody but an operator belongs to a firm, and an operator to none")
	case p.Role != care.Household && len(p.Homes) > 0:
		return errors.New("homes are listed for a household only; others see those of their firm")
	case p.Units != "" && p.Units != detect.Metric && p.Units != detect.US:
		return fmt.Errorf("the units %q are not metric or us", p.Units)
	case len(p.Language) > 35 || strings.ContainsAny(p.Language, " \r\n"):
		return errors.New("the language is a tag, as in en-IE")
	}
	if _, err := time.LoadLocation(p.Timezone); err != nil {
		return fmt.Errorf("the time zone %q is not known: use an IANA name, as in Europe/Dublin", p.Timezone)
	}
	for _, c := range p.Channels {
		if err := checkChannel(c); err != nil {
			return err
		}
	}
	return nil
}

const maxTarget = 1000 // bytes of a channel's address

func checkChannel(c care.Channel) error {
	if c.Target == "" || len(c.Target) > maxTarget || strings.ContainsAny(c.Target, "\r\n\x00") {
		return errors.New("a channel needs an address of one line")
	}
	if c.From < 0 || c.From >= 24*time.Hour || c.To < 0 || c.To > 24*time.Hour {
		return errors.New("a channel's hours lie within the day")
	}
	switch c.Kind {
	case care.Mail:
		if a, err := mail.ParseAddress(c.Target); err != nil || a.Address != c.Target {
			return fmt.Errorf("the channel's address %q is no e-mail address", c.Target)
		}
	case care.Webhook:
		if !strings.HasPrefix(c.Target, "https://") {
			return errors.New("a webhook's address begins with https://")
		}
	case care.Gateway:
		if !strings.Contains(c.Target, "://") {
			return errors.New("a gateway's address is a URL")
		}
	default:
		return fmt.Errorf("the channel %q is not one of mail, gateway and webhook", c.Kind)
	}
	return nil
}
