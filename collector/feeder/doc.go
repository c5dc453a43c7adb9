// Package feeder publishes readings to a broker as sensors would: SenML packs
// on homes/<home>/sensors/<device>, at quality of service 1. Simulated homes and
// recordings come alive through it.
//
// Each home has one device, a hub that gathers its sensors: readings wait until
// their pack spans Options.Pack of their own time or holds Options.Records, so
// that a simulated day is some hundred messages and not a hundred thousand.
package feeder
