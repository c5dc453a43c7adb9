// Package prometheus holds what an operator gives to a Prometheus server to
// watch collectors with: alerts.yaml, the alerts, with their tests in
// alerts_test.yaml, and scrape.yaml, how to find a collector.
//
// Alerts say what an operator must act on and what to do. A home in trouble is
// none of them: its household and firm are told by the collector itself.
package prometheus

import "embed"

//go:embed alerts.yaml scrape.yaml
var files embed.FS

// Alerts are the alert rules, as a rule file.
func Alerts() []byte { return file("alerts.yaml") }

// Scrape is an example of a configuration that scrapes a collector.
func Scrape() []byte { return file("scrape.yaml") }

func file(name string) []byte {
	text, err := files.ReadFile(name)
	if err != nil {
		panic(err) // it is embedded
	}
	return text
}
