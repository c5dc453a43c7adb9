package collector_test

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"brinebell/collector"
	"brinebell/collector/state"
	"brinebell/detect"
)

func profileOf(t *testing.T, text string) detect.Home {
	t.Helper()
	h, err := detect.ReadHome("test", text)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// TestHomesWhileRunning puts a home in, changes it, exports and erases it, with
// readings in between, over restarts.
func TestHomesWhileRunning(t *testing.T) {
	ctx := context.Background()
	opts := streamOptions(t.TempDir(), "127.0.0.1:0", "")
	opts.Kept = true
	c, stop := running(t, opts)
	sensor := connect(t, "tcp://"+c.BrokerAddr())
	at := streamClock().Add(-time.Hour)
	publish := func(minute int) {
		t.Helper()
		send(t, sensor, "homes/new-1/sensors/meter", fmt.Sprintf(`[{"bn":"new-1/meter/","n":"inlet_volume","u":"l","v":%d,"t":%d}]`, 100+minute, at.Unix()+int64(60*minute)))
	}
	points := func(c *collector.Collector) int {
		t.Helper()
		p, err := c.Points(ctx, "new-1", detect.InletVolume, at, at.Add(time.Hour), 1000)
		if err != nil {
			t.Fatal(err)
		}
		return len(p)
	}
	publish(0) // of nobody yet
	const text = "id: new-1\ntimezone: Europe/Dublin\nname: New\n"
	if err := c.PutHome(ctx, profileOf(t, text), text); err != nil {
		t.Fatal(err)
	}
	publish(1)
	publish(2)
	if n := points(c); n != 2 {
		t.Errorf("%d points, want the two after it was put in", n)
	}
	changed := text + "meters: {inlet: {pulse: 1 L}}\n"
	if err := c.PutHome(ctx, profileOf(t, changed), changed); err != nil {
		t.Fatal(err)
	}
	if _, ok := c.Books("new-1"); !ok {
		t.Error("no books of the new home")
	}
	sensor.Disconnect(100)
	stop()

	c, stop = running(t, opts) // kept over a restart, as it was changed
	if got, err := c.Profile(ctx, "new-1"); err != nil || got != changed {
		t.Errorf("%q %v", got, err)
	}
	if n := points(c); n != 2 || len(c.Homes()) != streamHomes+1 {
		t.Errorf("%d points, %d homes", n, len(c.Homes()))
	}
	var out bytes.Buffer
	if err := c.Export(ctx, "new-1", &out, map[string]any{"devices.json": []string{"meter"}}); err != nil {
		t.Fatal(err)
	}
	checkExport(t, out.Bytes(), changed)

	if err := c.RemoveHome(ctx, "new-1"); err != nil {
		t.Fatal(err)
	}
	sensor = connect(t, "tcp://"+c.BrokerAddr())
	publish(3)
	sensor.Disconnect(100)
	var none collector.ErrNoHome
	for what, err := range map[string]error{"profile": second(c.Profile(ctx, "new-1")), "points": second(c.Points(ctx, "new-1", detect.InletVolume, at, at, 1)),
		"export": c.Export(ctx, "new-1", io.Discard, nil), "removal": c.RemoveHome(ctx, "new-1")} {
		if !errors.As(err, &none) {
			t.Errorf("%s after its end: %v", what, err)
		}
	}
	stop()
	c, stop = running(t, opts)
	defer stop()
	if len(c.Homes()) != streamHomes {
		t.Error("it came back")
	}
	if err := c.PutHome(ctx, profileOf(t, text), text); err != nil {
		t.Fatal(err)
	}
	if n := points(c); n != 0 {
		t.Errorf("%d points of an earlier home of that name", n)
	}
}

func second[T any](_ T, err error) error { return err }

func checkExport(t *testing.T, data []byte, profile string) {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	files := map[string]string{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		content, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		files[f.Name] = string(content)
	}
	for _, name := range []string{"README.txt", "alerts.json", "regenerations.json", "books.json", "cases.json"} {
		if files[name] == "" {
			t.Errorf("no %s", name)
		}
	}
	if files["profile.yaml"] != profile || !strings.Contains(files["devices.json"], "meter") {
		t.Errorf("%q %q", files["profile.yaml"], files["devices.json"])
	}
	lines := strings.Split(strings.TrimSpace(files["readings.csv"]), "\n")
	if len(lines) != 3 || lines[0] != "time,home,signal,value" || !strings.HasSuffix(lines[2], ",new-1,inlet_volume,102") {
		t.Errorf("%q", lines)
	}
}

// TestTheHomesFile and what people change of the same home: the newer change
// stands.
func TestTheHomesFile(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	open := func(name string) *collector.Collector {
		t.Helper()
		opts := streamOptions(dir, "127.0.0.1:0", "")
		text := "id: mill-1\ntimezone: UTC\nname: " + name + "\n"
		opts.Homes, opts.Profiles, opts.Kept = []detect.Home{profileOf(t, text)}, map[string]string{"mill-1": text}, true
		c, err := collector.Open(ctx, opts)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	name := func(c *collector.Collector) string { return c.Homes()[0].Name }
	c := open("filed")
	if name(c) != "filed" {
		t.Error(name(c))
	}
	const text = "id: mill-1\ntimezone: UTC\nname: changed\n"
	if err := c.PutHome(ctx, profileOf(t, text), text); err != nil {
		t.Fatal(err)
	}
	_ = c.Close()
	for _, step := range []struct{ filed, want string }{{"filed", "changed"}, {"filed anew", "filed anew"}, {"filed anew", "filed anew"}} {
		c := open(step.filed)
		if name(c) != step.want {
			t.Errorf("the file says %s: %s, want %s", step.filed, name(c), step.want)
		}
		_ = c.Close()
	}
	db, err := state.Open(ctx, filepath.Join(dir, "state.db"), nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(db.SaveHome(ctx, state.Home{ID: "old-1", Profile: "id: old-1\nlid: 3\n"}), db.Close()); err != nil {
		t.Fatal(err)
	}
	opts := streamOptions(dir, "127.0.0.1:0", "")
	opts.Kept = true
	if _, err := collector.Open(ctx, opts); err == nil || !strings.Contains(err.Error(), "old-1") {
		t.Errorf("a profile that cannot be read: %v", err)
	}
}
