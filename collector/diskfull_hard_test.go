package collector_test

import (
	"errors"
	"fmt"
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

// occupy fills a disk but for some bytes.
func occupy(t *testing.T, path string, leave int64) {
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
	if info, err := f.Stat(); err != nil || f.Truncate(info.Size()-leave) != nil {
		t.Fatal(err)
	}
	_ = f.Close()
}

// dead says whether a process has ended that nobody has waited for.
func dead(t *testing.T, command *exec.Cmd) bool {
	t.Helper()
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", command.Process.Pid))
	if err != nil {
		t.Fatal(err)
	}
	_, after, _ := strings.Cut(string(status), ") ")
	return strings.HasPrefix(after, "Z")
}

// TestHardDiskFull fills the disk under a running collector to the last byte,
// makes room a while later, and kills the collector some time after. The library
// below the series store may end the process when a file cannot be written; then
// it is started again, as a service manager does.
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
			occupy(t, ballast, 0)
			// Nothing says when the collector has felt it. The moment is random.
			time.Sleep(time.Duration(200+random.IntN(1500)) * time.Millisecond)
			if err := os.Remove(ballast); err != nil {
				t.Fatal(err)
			}
			if dead(t, running) {
				return restartKilled(t, running, env...)
			}
			return running
		}
		strike(t, "tcp://"+address, moments(random, 4), bad, "DIR="+dir, "LISTEN="+address)
		verify(t, streamOptions(dir, address, ""))
	})
}

// TestNearlyFullDisk leaves less room than the collector asks for: nothing is
// acknowledged, nothing crashes, and all of it follows when there is room.
func TestNearlyFullDisk(t *testing.T) {
	mount := small(t, "64m")
	dir, address := filepath.Join(mount, "data"), freeAddress(t)
	ballast := filepath.Join(mount, "ballast")
	bad := func(t *testing.T, running *exec.Cmd, _ ...string) *exec.Cmd {
		occupy(t, ballast, 6<<20)
		defer os.Remove(ballast)
		before := written(t, dir)
		time.Sleep(500 * time.Millisecond) // there is nothing to wait for: nothing must happen
		if after := written(t, dir); after != before {
			t.Errorf("the log went from %d to %d bytes on a disk that is nearly full", before, after)
		}
		return running
	}
	strike(t, "tcp://"+address, []int{messages / 2}, bad, "DIR="+dir, "LISTEN="+address)
	verify(t, streamOptions(dir, address, ""))
}

// written is how long the series store's log is, once what was under way when
// the disk filled has been written.
func written(t *testing.T, dir string) (size int64) {
	t.Helper()
	time.Sleep(200 * time.Millisecond)
	segments, err := filepath.Glob(filepath.Join(dir, "series", "wal", "0*"))
	if err != nil || len(segments) == 0 {
		t.Fatal(segments, err)
	}
	for _, s := range segments {
		info, err := os.Stat(s)
		if err != nil {
			t.Fatal(err)
		}
		size += info.Size()
	}
	return size
}

// TestReadOnlyDisk begins on one: that is said, and nothing is taken.
func TestReadOnlyDisk(t *testing.T) {
	mount := small(t, "64m")
	opts := streamOptions(filepath.Join(mount, "data"), "127.0.0.1:0", "")
	_, stop := running(t, opts)
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
