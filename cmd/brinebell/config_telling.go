package main

import (
	"errors"
	"fmt"
	"net"
	"net/mail"
	"net/url"
	"os"
	"strconv"
	"strings"

	"brinebell/collector"
	"brinebell/collector/people"
	"brinebell/collector/state"
	"brinebell/collector/telling"
)

// tellingConfig says how people are told.
type tellingConfig struct {
	Pages   string     `yaml:"pages" doc:"address of the pages as people reach them, for the links in messages, as in https://brinebell.example"`
	Private bool       `yaml:"private_addresses" doc:"webhooks and gateways may lead to addresses in the own network"`
	Mail    mailConfig `yaml:"mail" doc:"the mail server; without one nobody gets mails"`
}

type mailConfig struct {
	Server       string      `yaml:"server" doc:"host:port; without a port 587 is taken, or 465 where security is tls"`
	From         string      `yaml:"from" doc:"address that mails come from, as in Brinebell <bell@brinebell.example>"`
	Username     string      `yaml:"username" doc:"name there"`
	PasswordFile string      `yaml:"password_file" doc:"file with the password there"`
	Security     telling.TLS `yaml:"security" doc:"of the connection: starttls, tls (from the first byte), or none (a server on this machine or in a trusted network)"`
}

func defaultTellingConfig() tellingConfig {
	return tellingConfig{Mail: mailConfig{Security: telling.StartTLS}}
}

// The ports of mail submission (RFC 8314, section 3.3, and RFC 6409).
const (
	submissionPort    = 587
	submissionTLSPort = 465
)

func (c tellingConfig) validate() error {
	var errs []error
	bad := func(key, text string) { errs = append(errs, fmt.Errorf("telling.%s: %s", key, text)) }
	if u, err := url.Parse(c.Pages); c.Pages != "" && (err != nil || u.Host == "" || u.Scheme != "https" && u.Scheme != "http") {
		bad("pages", fmt.Sprintf("%q: give an address like https://brinebell.example", c.Pages))
	}
	m := c.Mail
	if m.Server == "" {
		if m.From != "" || m.Username != "" {
			bad("mail.server", "missing: the mail server, host:port")
		}
		return errors.Join(errs...)
	}
	if _, err := mail.ParseAddress(m.From); err != nil {
		bad("mail.from", fmt.Sprintf("%q: give the address that mails come from, like bell@brinebell.example", m.From))
	}
	if _, _, err := m.address(); err != nil {
		bad("mail.server", err.Error())
	}
	switch m.Security {
	case telling.StartTLS, telling.Implicit, telling.PlainTCP:
	default:
		bad("mail.security", fmt.Sprintf("%q: use starttls, tls or none", m.Security))
	}
	if (m.Username == "") != (m.PasswordFile == "") {
		bad("mail.username", "give both username and password_file, or neither")
	}
	return errors.Join(errs...)
}

// address is the mail server's host and port.
func (m mailConfig) address() (host string, port int, err error) {
	port = submissionPort
	if m.Security == telling.Implicit {
		port = submissionTLSPort
	}
	if !strings.Contains(strings.Trim(m.Server, "[]"), ":") {
		return m.Server, port, nil
	}
	host, text, err := net.SplitHostPort(m.Server)
	if err == nil {
		port, err = strconv.Atoi(text)
	}
	if err != nil || host == "" || port < 1 || port > 65535 {
		return "", 0, fmt.Errorf("%q: give host:port, as in mail.example:587", m.Server)
	}
	return host, port, nil
}

// care makes the options of cases and telling that the configuration asks for.
func (c tellingConfig) care() (collector.CareOptions, error) {
	o := collector.CareOptions{BaseURL: c.Pages, Private: c.Private,
		Accounts: func(db *state.DB) collector.Accounts { return people.New(people.Options{DB: db}) }}
	if c.Mail.Server == "" {
		return o, nil
	}
	host, port, err := c.Mail.address()
	if err != nil {
		return o, err
	}
	o.Mail = telling.MailOptions{Host: host, Port: port, From: c.Mail.From, Username: c.Mail.Username, TLS: c.Mail.Security}
	if c.Mail.PasswordFile != "" {
		b, err := os.ReadFile(c.Mail.PasswordFile)
		if err != nil {
			return o, err
		}
		o.Mail.Password = strings.TrimSpace(string(b))
	}
	return o, nil
}
