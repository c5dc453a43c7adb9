package main

import (
	"bytes"
	"context"
	"net"
	"strings"
	"testing"
)

// An address in use is said, with what to do, and is no crash.
func TestDemoOnABusyAddress(t *testing.T) {
	busy, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer busy.Close()
	var out, errOut bytes.Buffer
	code := run(context.Background(), []string{"demo", "--listen", busy.Addr().String()}, nil, &out, &errOut)
	if code != exitFail || !strings.Contains(errOut.String(), "--listen 127.0.0.1:0") {
		t.Errorf("exit %d: %s", code, &errOut)
	}
}
