package spool

import (
	"bufio"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"brinebell/detect"
)

// The test binary runs itself again as the process that is killed when this
// variable names a folder.
const childVariable = "BRINEBELL_TEST_SPOOL"

// childRole is the process that is killed: it appends and says how many batches
// were acknowledged, while the store is down half of the time.
func childRole() bool {
	dir := os.Getenv(childVariable)
	if dir == "" {
		return false
	}
	s, err := Open(Options{Dir: dir, Store: &fakeStore{}, Limit: minLimit})
	if err != nil {
		fmt.Println("open:", err)
		os.Exit(1)
	}
	first, _ := strconv.Atoi(os.Getenv("FIRST"))
	for i := first; ; i++ {
		if _, err := s.Append(context.Background(), minutes("a", i*100, 100)); err != nil {
			fmt.Println("append:", err)
			os.Exit(1)
		}
		fmt.Println(i + 1)
	}
}

// TestKilled kills the process at random moments and goes on with the same
// spool: all that it said was acknowledged must be there, in order. A batch whose
// acknowledgement was not heard is sent again, as a broker does.
func TestKilled(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	dir := t.TempDir()
	acknowledged, drained := 0, 0
	for round := range 15 {
		acknowledged = runChild(t, dir, acknowledged, 3+random.IntN(40))
		store := &fakeStore{}
		s := open(t, Options{Dir: dir, Store: store, Limit: minLimit})
		held := rising(t, waiting(t, s, "a"), drained)
		if held < acknowledged*100 {
			t.Fatalf("round %d: readings up to %d are held, up to %d were acknowledged", round, held, acknowledged*100)
		}
		if round%3 == 2 {
			drain(t, s)
			if got := rising(t, store.all(), drained); got != held {
				t.Fatalf("round %d: readings up to %d were handed on, up to %d were held", round, got, held)
			}
			drained = held
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
}

// rising checks that readings are those from one on, where some may come again,
// and says which is next.
func rising(t *testing.T, got []detect.Reading, next int) int {
	t.Helper()
	for i, r := range got {
		if r.Value > float64(next) {
			t.Fatalf("reading %d is %v, want %d", i, r, next)
		}
		if r.Value == float64(next) {
			next++
		}
	}
	return next
}

// runChild runs the process until it has acknowledged some more batches, kills
// it and says how many it had acknowledged by then.
func runChild(t *testing.T, dir string, first, more int) (acknowledged int) {
	t.Helper()
	command := exec.Command(os.Args[0])
	command.Env = append(os.Environ(), childVariable+"="+dir, "FIRST="+strconv.Itoa(first))
	out, err := command.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := command.Start(); err != nil {
		t.Fatal(err)
	}
	acknowledged = first
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		n, err := strconv.Atoi(strings.TrimSpace(lines.Text()))
		if err != nil {
			t.Error(lines.Text())
			break
		}
		if acknowledged = n; n == first+more { // and read on: more was acknowledged before it died
			_ = command.Process.Kill()
		}
	}
	_ = command.Wait()
	return acknowledged
}
