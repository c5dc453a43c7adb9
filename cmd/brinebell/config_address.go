package main

import (
	"fmt"
	"net"
	"net/url"
	"slices"
	"strconv"
	"strings"
)

// checkListen says what is wrong with an address to listen at; an empty one is not
// used.
func checkListen(key, address string) error {
	if address == "" {
		return nil
	}
	_, port, err := net.SplitHostPort(address)
	if err != nil {
		return fmt.Errorf("%s: %q: write host:port, as in 127.0.0.1:8480, or 0.0.0.0:8480 for all of this machine's addresses", key, address)
	}
	if n, err := strconv.Atoi(port); err != nil || n < 0 || n > 65535 {
		return fmt.Errorf("%s: %q: a port is a number from 1 to 65535, or 0 for a free one", key, address)
	}
	return nil
}

// brokerSchemes are those that the MQTT client connects by.
var brokerSchemes = []string{"tcp", "mqtt", "ssl", "tls", "mqtts", "ws", "wss"}

func checkBrokerURL(text string) error {
	if text == "" {
		return nil
	}
	u, err := url.Parse(text)
	if err != nil || u.Host == "" || !slices.Contains(brokerSchemes, u.Scheme) {
		return fmt.Errorf("broker.url: %q: write scheme://host:port, as in tcp://127.0.0.1:1883; the schemes are %s", text, strings.Join(brokerSchemes, ", "))
	}
	return nil
}
