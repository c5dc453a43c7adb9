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

// A folder serves one program at a time, and the second is told so.
func TestFolderIsForOne(t *testing.T) {
	dir := t.TempDir()
	release, err := lockFolder(dir)
	if err != nil {
		t.Fatal(err)
	}
	config := writeFile(t, "c.yaml", "data: "+dir+"\nhomes: "+writeFile(t, "h.yaml", "homes: [{id: a, timezone: UTC}]")+"\nlisten: 127.0.0.1:0\nbroker: {listen: 127.0.0.1:0}\n")
	code, _, errOut := command(t, "serve", "--config", config)
	if code != exitFail || !strings.Contains(errOut, "the folder "+dir+" is in use") {
		t.Errorf("exit %d: %s", code, errOut)
	}
	if err := release(); err != nil {
		t.Fatal(err)
	}
	again, err := lockFolder(dir)
	if err != nil {
		t.Fatalf("not free again: %v", err)
	}
	if err := again(); err != nil {
		t.Fatal(err)
	}
}

// What help and completion do not know is wrong usage, with what was perhaps meant.
func TestUnknownTopics(t *testing.T) {
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"help", "replya"}, "near are replay"},
		{[]string{"help", "nothing", "here"}, "no help on"},
		{[]string{"completion", "tcsh"}, "bash, zsh, fish and powershell"},
		{[]string{"replya"}, "replay"},
	} {
		if code, _, errOut := command(t, c.args...); code != exitUsage || !strings.Contains(errOut, c.want) {
			t.Errorf("%v: exit %d, %s, want %q", c.args, code, errOut, c.want)
		}
	}
	for _, args := range [][]string{{"help"}, {"help", "replay"}, {"help", "signals"}, {"completion"}, {"completion", "bash"}, {"completion", "zsh", "--no-descriptions"}} {
		if code, out, errOut := command(t, args...); code != exitDone || out == "" {
			t.Errorf("%v: exit %d, %s", args, code, errOut)
		}
	}
}
