package telling

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	netmail "net/mail"
	"strings"
	"time"

	mail "github.com/wneessen/go-mail"

	"brinebell/detect/care"
)

// mailer sends mails. One that has no server refuses nothing: mails then wait
// until there is one, or are given up.
type mailer struct {
	client *mail.Client // nil without a server
	from   *netmail.Address
}

// helloName is what we call ourselves to the mail server; the name of the
// machine is nobody's business.
const helloName = "localhost"

func newMailer(o MailOptions) (*mailer, error) {
	if o.Host == "" {
		return &mailer{}, nil
	}
	from, err := netmail.ParseAddress(o.From)
	if err != nil {
		return nil, fmt.Errorf("telling: the address to send from, %q, cannot be read", o.From)
	}
	options := []mail.Option{mail.WithPort(o.Port), mail.WithTimeout(tryTime), mail.WithHELO(helloName)}
	switch o.TLS {
	case StartTLS:
		options = append(options, mail.WithTLSPolicy(mail.TLSMandatory))
	case Implicit:
		options = append(options, mail.WithSSL())
	case PlainTCP:
		options = append(options, mail.WithTLSPolicy(mail.NoTLS))
	default:
		return nil, fmt.Errorf("telling: %q is no way to keep a connection secret: use starttls, tls or none", o.TLS)
	}
	if o.Config != nil {
		options = append(options, mail.WithTLSConfig(o.Config))
	}
	if o.Username != "" {
		options = append(options, mail.WithSMTPAuth(mail.SMTPAuthAutoDiscover), mail.WithUsername(o.Username), mail.WithPassword(o.Password))
	}
	client, err := mail.NewClient(o.Host, options...)
	if err != nil {
		return nil, fmt.Errorf("telling: mail server: %w", err)
	}
	return &mailer{client, from}, nil
}

func (m *mailer) send(ctx context.Context, c care.Channel, l letter) error {
	if m.client == nil {
		return fmt.Errorf("%w: no mail server is configured", errDown)
	}
	html, err := l.html()
	if err != nil {
		return err
	}
	msg, err := m.message(c.Target, l.subject, l.id, l.at)
	if err != nil {
		return err
	}
	msg.SetBodyString(mail.TypeTextPlain, l.text())
	msg.AddAlternativeString(mail.TypeTextHTML, html)
	if l.picture != nil {
		err := msg.EmbedReader("evidence.png", bytes.NewReader(l.picture), mail.WithFileContentID("evidence"), mail.WithFileContentType("image/png"))
		if err != nil {
			return err
		}
	}
	return m.deliver(ctx, msg)
}

// message is a mail with its headers. Auto-Submitted keeps automatic answers
// from coming back (RFC 3834).
func (m *mailer) message(to, subject, id string, at time.Time) (*mail.Msg, error) {
	msg := mail.NewMsg(mail.WithNoDefaultUserAgent())
	msg.FromMailAddress(m.from)
	if err := msg.To(to); err != nil {
		return nil, fmt.Errorf("%w: the address cannot be read", errRefused)
	}
	msg.Subject(oneLine(subject))
	msg.SetDateWithValue(at)
	_, host, _ := strings.Cut(m.from.Address, "@")
	msg.SetMessageIDWithValue(id + "@" + host)
	msg.SetGenHeader("Auto-Submitted", "auto-generated")
	return msg, nil
}

// deliver hands a mail to the server. Once the server has taken it, whatever
// goes wrong afterwards is of no account: a second one would be one too many.
func (m *mailer) deliver(ctx context.Context, msg *mail.Msg) error {
	connection, err := m.client.DialToSMTPClientWithContext(ctx)
	if err != nil {
		return fmt.Errorf("%w: %w", errDown, err)
	}
	defer func() { _ = m.client.CloseWithSMTPClient(connection) }()
	// A server that falls silent is left at the deadline.
	stop := context.AfterFunc(ctx, func() { _ = connection.Close() })
	defer stop()
	err = m.client.SendWithSMTPClient(connection, msg)
	var failed *mail.SendError
	switch {
	case err == nil || msg.IsDelivered():
		return nil
	case !errors.As(err, &failed):
		return errors.New("mail: the connection broke")
	case failed.Reason == mail.ErrSMTPRcptTo && failed.ErrorCode() >= 500:
		return fmt.Errorf("%w: the mail server answered %d to the recipient's address", errRefused, failed.ErrorCode())
	}
	// The server's own text may hold the address.
	return fmt.Errorf("mail: %s, code %d", failed.Reason, failed.ErrorCode())
}

// CanMail says whether there is a mail server.
func (t *Teller) CanMail() bool { return t.mailer.client != nil }

// SendMail sends a mail at once, past the outbox, as for one-time links: nothing
// of it is kept or logged.
func (t *Teller) SendMail(ctx context.Context, to, subject, text string) error {
	if !t.CanMail() {
		return fmt.Errorf("%w: no mail server is configured", errNoWay)
	}
	now := t.opts.Clock().UTC()
	msg, err := t.mailer.message(to, subject, fmt.Sprintf("at-once-%x", now.UnixNano()), now)
	if err != nil {
		return err
	}
	msg.SetBodyString(mail.TypeTextPlain, text)
	ctx, cancel := context.WithTimeout(ctx, tryTime)
	defer cancel()
	return t.mailer.deliver(ctx, msg)
}
