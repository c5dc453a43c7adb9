// Package feeder publishes readings to a broker as sensors would: SenML packs
// on homes/<home>/sensors/<device>, at quality of service 1, one device for each
// signal. Simulated homes and recordings come alive through it.
//
// Readings of one device wait until its pack spans Options.Pack of their own
// time or holds Options.Records, so that a simulated day is some hundred
// messages and not a hundred thousand.
package feeder
