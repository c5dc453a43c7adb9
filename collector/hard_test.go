package collector_test

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"os/exec"
	"slices"
	"testing"
	"time"

	"brinebell/collector/mosquittotest"
)

// hard multiplies what the hard tests do; once through with
// "go test ./collector -run Hard -hard 20 -timeout 2h" means a hundred kills.
var hard = flag.Int("hard", 1, "how many rounds each of the hard tests does")

// rounds runs a test so often, each time with random numbers of its own.
func rounds(t *testing.T, round func(t *testing.T, random *rand.Rand)) {
	t.Helper()
	for i := range *hard {
		t.Run(fmt.Sprint("round ", i+1), func(t *testing.T) { round(t, rand.New(rand.NewPCG(uint64(i), 7))) })
	}
}

// moments of the stream, at random, in order.
func moments(random *rand.Rand, n int) (at []int) {
	for range n {
		at = append(at, 100+random.IntN(messages-200))
	}
	slices.Sort(at)
	return at
}

// TestHardKilledAtRandomMoments kills the collector five times a round: at
// random moments, half of them once more while it starts, and some of them after
// it was stopped well and has started from what that left.
func TestHardKilledAtRandomMoments(t *testing.T) {
	rounds(t, func(t *testing.T, random *rand.Rand) {
		bad := func(t *testing.T, running *exec.Cmd, env ...string) *exec.Cmd {
			if random.IntN(3) == 0 {
				stopWell(t, running)
				running = startCollector(t, env...)
			} else {
				running = restartKilled(t, running, env...)
			}
			if random.IntN(2) == 0 {
				// The moment is what is random here: anywhere in the start.
				time.Sleep(time.Duration(random.IntN(300)) * time.Millisecond)
				running = restartKilled(t, running, env...)
			}
			return running
		}
		dir := t.TempDir()
		if random.IntN(2) == 0 {
			address := freeAddress(t)
			strike(t, "tcp://"+address, moments(random, 5), bad, "DIR="+dir, "LISTEN="+address)
			verify(t, streamOptions(dir, address, ""))
			return
		}
		url := mosquittotest.Start(t)
		strike(t, url, moments(random, 5), bad, "DIR="+dir, "URL="+url)
		verify(t, streamOptions(dir, "", url))
	})
}
