package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"brinebell/collector/telling"
)

func tellingOf(t *testing.T, text string) (config, error) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "config.yaml")
	if err := os.WriteFile(filepath.Join(filepath.Dir(path), "mail.password"), []byte("hush\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte("broker: {listen: 127.0.0.1:0}\ntelling:\n"+text), 0o600); err != nil {
		t.Fatal(err)
	}
	return readConfig(path)
}

func TestTellingIsConfigured(t *testing.T) {
	c, err := tellingOf(t, `  pages: https://bell.example
  mail: {server: mail.example, from: Bell <bell@bell.example>, username: bell, password_file: mail.password, security: tls}
`)
	if err != nil {
		t.Fatal(err)
	}
	o, err := c.Telling.care()
	want := telling.MailOptions{Host: "mail.example", Port: 465, From: "Bell <bell@bell.example>", Username: "bell", Password: "hush", TLS: telling.Implicit}
	if err != nil || o.Mail != want || o.BaseURL != "https://bell.example" {
		t.Errorf("%+v %v", o, err)
	}
	if c, err := tellingOf(t, "  mail: {server: 'mail.example:2525', from: bell@bell.example}\n"); err != nil || c.Telling.Mail.Security != telling.StartTLS {
		t.Errorf("%+v %v", c.Telling, err)
	} else if _, port, err := c.Telling.Mail.address(); port != 2525 || err != nil {
		t.Errorf("port %d %v", port, err)
	}
}

func TestBadTellingSaysWhatToDo(t *testing.T) {
	for text, want := range map[string]string{
		"  pages: bell.example\n":                                   "telling.pages",
		"  mail: {from: a@b.example}\n":                             "telling.mail.server",
		"  mail: {server: m, from: nobody}\n":                       "telling.mail.from",
		"  mail: {server: 'm:x', from: a@b.example}\n":              "telling.mail.server",
		"  mail: {server: m, from: a@b.example, security: rot13}\n": "use starttls, tls or none",
		"  mail: {server: m, from: a@b.example, username: a}\n":     "telling.mail.username",
		"  mail: {server: m, from: a@b.example, pasword_file: x}\n": "pasword_file",
		"  private_addresses: 7 times\n":                            "true or false",
	} {
		if _, err := tellingOf(t, text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %s", text, err, want)
		}
	}
}
