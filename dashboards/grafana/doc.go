// Package grafana makes the Grafana dashboards: of one home, of many homes, and
// of the collectors.
//
// They are code, so that a renamed metric or signal breaks a test and not a
// picture. Each dashboard is a list of panels, and a panel says what it shows, in
// what unit and by which queries; build.go turns that into Grafana's model with
// the foundation SDK. The files in the folder json are what Write writes, kept
// for those who have no program at hand, and a test holds them to the code:
//
//	go test ./dashboards/grafana -update
//
// Homes and their readings are asked of InfluxDB, in Flux that both 1.8 and 2
// understand. The collectors are asked of Prometheus. A home's readings are no
// Prometheus metrics: ten thousand homes would make a hundred thousand series of
// them, at every scrape.
package grafana
