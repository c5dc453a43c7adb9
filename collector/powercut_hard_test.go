package collector_test

import (
	"bytes"
	"context"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"syscall"
	"testing"

	"brinebell/collector"
	"brinebell/detect"
)

// disk is a file system of its own in a file, as on a machine whose power can
// be cut. What a program writes reaches the file when the kernel flushes it:
// when the program asks for it, or seconds later.
type disk struct {
	t     *testing.T
	image string // the file
	mount string // where it is mounted
}

// diskSize holds the stores of a stream, and the library's preallocations.
const diskSize = 256 << 20

// newDisk makes and mounts a disk, which is unmounted when the test ends. Where
// that is not possible the test is skipped.
func newDisk(t *testing.T) *disk {
	t.Helper()
	d := &disk{t: t, image: filepath.Join(t.TempDir(), "disk"), mount: t.TempDir()}
	if os.Getuid() != 0 {
		t.Skip("left out: power that is cut, as only root can mount a disk for it")
	}
	f, err := os.Create(d.image)
	if err != nil {
		t.Fatal(err)
	}
	if err := f.Truncate(diskSize); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	d.try("mkfs.ext4", "-q", d.image)
	d.try("mount", "-o", "loop", d.image, d.mount)
	t.Cleanup(func() { _ = exec.Command("umount", "-l", d.mount).Run() })
	return d
}

// try runs a program, without which the test is skipped.
func (d *disk) try(name string, args ...string) {
	d.t.Helper()
	if out, err := exec.Command(name, args...).CombinedOutput(); err != nil {
		d.t.Skipf("left out: power that is cut, as no disk for it can be mounted: %s: %v %s", name, err, bytes.TrimSpace(out))
	}
}

func (d *disk) must(name string, args ...string) {
	d.t.Helper()
	if out, err := exec.Command(name, args...).CombinedOutput(); err != nil {
		d.t.Fatalf("%s: %v %s", name, err, out)
	}
}

// cut stops a process, keeps what the disk holds at that moment, kills the
// process and mounts what was kept. Whatever was not flushed is gone; while it
// stood still the process could acknowledge nothing.
func (d *disk) cut(running *exec.Cmd) {
	d.t.Helper()
	if err := running.Process.Signal(syscall.SIGSTOP); err != nil {
		d.t.Fatal(err)
	}
	kept := d.still()
	kill(d.t, running)
	d.must("umount", d.mount)
	if err := os.Rename(kept, d.image); err != nil {
		d.t.Fatal(err)
	}
	d.must("mount", "-o", "loop", d.image, d.mount)
}

// still copies the file as it was at one moment. The kernel goes on to write
// while it is copied, and a copy of which one end is older than the other is of
// no disk that ever was: what was flushed can be missing in it. Two copies that
// are alike are the file between them.
func (d *disk) still() (kept string) {
	d.t.Helper()
	kept, again := d.image+"-kept", d.image+"-again"
	defer os.Remove(again)
	d.must("cp", "--sparse=always", d.image, kept)
	for {
		d.must("cp", "--sparse=always", d.image, again)
		if exec.Command("cmp", "-s", kept, again).Run() == nil {
			return kept
		}
		if err := os.Rename(again, kept); err != nil {
			d.t.Fatal(err)
		}
	}
}

// TestHardPowerCut cuts the power three times a round. What was acknowledged
// must be there afterwards.
func TestHardPowerCut(t *testing.T) {
	rounds(t, func(t *testing.T, random *rand.Rand) {
		opts := powerCut(t, moments(random, 3))
		verify(t, opts)
	})
}

// TestHardPowerCutWithoutFlushing shows that these cuts lose what is not
// flushed: a collector that does not flush loses readings.
func TestHardPowerCutWithoutFlushing(t *testing.T) {
	opts := powerCut(t, quarters(), "NOSYNC=1")
	if missing := missingNow(t, opts); missing == 0 {
		t.Error("nothing was lost, so that the other test of the power shows nothing")
	}
}

// powerCut publishes the stream to a collector whose power is cut at moments.
func powerCut(t *testing.T, at []int, env ...string) collector.Options {
	d := newDisk(t)
	dir, address := filepath.Join(d.mount, "data"), freeAddress(t)
	bad := func(t *testing.T, running *exec.Cmd, env ...string) *exec.Cmd {
		d.cut(running)
		return startCollector(t, env...)
	}
	strike(t, "tcp://"+address, at, bad, append([]string{"DIR=" + dir, "LISTEN=" + address}, env...)...)
	return streamOptions(dir, address, "")
}

// missingNow is how many readings of the stream are not stored.
func missingNow(t *testing.T, opts collector.Options) (missing int) {
	t.Helper()
	c, err := collector.Open(context.Background(), opts)
	if err != nil {
		t.Fatal(err)
	}
	for i := range streamHomes {
		missing += streamMinutes - len(stored(t, c, "home-"+strconv.Itoa(i), detect.InletVolume))
	}
	if err := c.Close(); err != nil {
		t.Error(err)
	}
	return missing
}
