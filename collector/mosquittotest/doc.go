// Package mosquittotest starts a real Mosquitto for tests, with the settings
// that package link asks for.
package mosquittotest
