// Package influxtest starts a real InfluxDB 1.8 for tests, with the settings that
// package influx asks for.
package influxtest
