package collector_test

import (
	"errors"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"brinebell/collector"
)

// small is a small disk in memory. Where none can be mounted the test is
// skipped.
func small(t *testing.T, size string) (dir string) {
	t.Helper()
	dir = t.TempDir()
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", "size="+size, "none", dir).CombinedOutput(); err != nil {
		t.Skipf("left out: a full disk and a read-only one, as none can be mounted: %v %s", err, out)
	}
	t.Cleanup(func() { _ = exec.Command("umount", "-l", dir).Run() })
	return dir
}

// occupy fills a disk to the last byte.
func occupy(t *testing.T, path string) {
	t.Helper()
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	for block := make([]byte, 1<<16); len(block) > 0; {
		if _, err = f.Write(block); err != nil {
			block = block[:len(block)/2]
		}
	}
	if !errors.Is(err, syscall.ENOSPC) {
		t.Fatal(err)
	}
	_ = f.Close()
}

// TestHardDiskFull fills the disk under a running collector, makes room a while
// later, and kills the collector some time after.
func TestHardDiskFull(t *testing.T) {
	rounds(t, func(t *testing.T, random *rand.Rand) {
		mount := small(t, "64m")
		dir, address := filepath.Join(mount, "data"), freeAddress(t)
		ballast := filepath.Join(mount, "ballast")
		full := true
		bad := func(t *testing.T, running *exec.Cmd, env ...string) *exec.Cmd {
			defer func() { full = !full }()
			if !full { // at the second and fourth moment
				return restartKilled(t, running, env...)
			}
			occupy(t, ballast)
			// Nothing says when the collector has felt it. The moment is random.
			time.Sleep(time.Duration(200+random.IntN(1500)) * time.Millisecond)
			if err := os.Remove(ballast); err != nil {
				t.Fatal(err)
			}
			return running
		}
		strike(t, "tcp://"+address, moments(random, 4), bad, "DIR="+dir, "LISTEN="+address)
		verify(t, streamOptions(dir, address, ""))
	})
}

// TestReadOnlyDisk begins on one: that is said, and nothing is taken.
func TestReadOnlyDisk(t *testing.T) {
	mount := small(t, "64m")
	opts := streamOptions(filepath.Join(mount, "data"), "127.0.0.1:0", "")
	c, stop := running(t, opts)
	stop()
	if out, err := exec.Command("mount", "-o", "remount,ro", mount).CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, out)
	}
	c, err := collector.Open(t.Context(), opts)
	if err == nil {
		_ = c.Close()
		t.Fatal("opened on a read-only disk")
	}
	if !strings.Contains(err.Error(), "read-only") && !strings.Contains(err.Error(), "readonly") {
		t.Errorf("%v: it does not say what is wrong", err)
	}
}
