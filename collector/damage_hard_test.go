package collector_test

import (
	"database/sql"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"brinebell/collector/senml"
)

// TestDamagedSnapshots makes snapshots of an earlier run useless in each of the
// ways in which a disk can, while the collector does not run. It falls back on
// older ones, or on the readings alone, and comes to the same alerts, once each.
func TestDamagedSnapshots(t *testing.T) {
	dir, address := t.TempDir(), freeAddress(t)
	strike(t, "tcp://"+address, nil, nil, "DIR="+dir, "LISTEN="+address)
	for name, damage := range map[string]string{
		"half of the newest is missing": `UPDATE snapshots SET data = substr(data, 1, length(data) / 2) WHERE (home, watermark) IN (SELECT home, max(watermark) FROM snapshots GROUP BY home)`,
		"a byte of the newest differs":  `UPDATE snapshots SET data = CAST(substr(data, 1, 900) || x'5a' || substr(data, 902) AS BLOB) WHERE (home, watermark) IN (SELECT home, max(watermark) FROM snapshots GROUP BY home)`,
		"all of them are empty":         `UPDATE snapshots SET data = x''`,
		"none is left":                  `DELETE FROM snapshots`,
	} {
		t.Run(name, func(t *testing.T) {
			execute(t, filepath.Join(dir, "state.db"), damage)
			verify(t, streamOptions(dir, address, ""))
		})
	}
}

// TestAnotherMachineTakesOver gives the readings to a collector that knows nothing
// else of the homes, as when another machine takes them over from a store that
// both reach: it comes to the same alerts with the same ids.
func TestAnotherMachineTakesOver(t *testing.T) {
	dir, address := t.TempDir(), freeAddress(t)
	strike(t, "tcp://"+address, nil, nil, "DIR="+dir, "LISTEN="+address)
	other := t.TempDir()
	if err := os.Rename(filepath.Join(dir, "series"), filepath.Join(other, "series")); err != nil {
		t.Fatal(err)
	}
	verify(t, streamOptions(other, address, ""))
}

// execute runs a statement that must change something.
func execute(t *testing.T, path, statement string) {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	result, err := db.Exec(statement)
	if err != nil {
		t.Fatal(err)
	}
	if n, err := result.RowsAffected(); err != nil || n == 0 {
		t.Fatalf("%s changed nothing: %v", statement, err)
	}
}

// TestHalfWrittenLog kills the collector in the middle of the stream and cuts the
// last bytes off the state's log, as of a transaction that was being written.
func TestHalfWrittenLog(t *testing.T) {
	dir, address := t.TempDir(), freeAddress(t)
	bad := func(t *testing.T, running *exec.Cmd, env ...string) *exec.Cmd {
		kill(t, running)
		tear(t, filepath.Join(dir, "state.db-wal"))
		return startCollector(t, env...)
	}
	strike(t, "tcp://"+address, []int{messages / 3}, bad, "DIR="+dir, "LISTEN="+address)
	verify(t, streamOptions(dir, address, ""))
}

// TestClockJumps lets the machine's clock fall back three years, as that of a
// board without a battery does at its start, and jump ahead by three days. What
// cannot be placed in time meanwhile is not acknowledged, and follows.
func TestClockJumps(t *testing.T) {
	var ahead atomic.Int64
	dir := t.TempDir()
	opts := streamOptions(dir, "127.0.0.1:0", "")
	opts.Clock = func() time.Time { return streamClock().Add(time.Duration(ahead.Load())) }
	c, stop := running(t, opts)
	underWay := mqtt.NewMemoryStore()
	client := mqtt.NewClient(mqtt.NewClientOptions().AddBroker("tcp://" + c.BrokerAddr()).SetClientID("sensors").SetCleanSession(false).SetStore(underWay).
		SetConnectRetry(true).SetConnectRetryInterval(10 * time.Millisecond).SetMaxReconnectInterval(20 * time.Millisecond))
	if token := client.Connect(); token.Wait() && token.Error() != nil {
		t.Fatal(token.Error())
	}
	for minute := range streamMinutes {
		switch minute {
		case 1000:
			ahead.Store(-int64(3 * 365 * 24 * time.Hour))
			publishMinute(t, client, minute).WaitTimeout(500 * time.Millisecond)
			if n := len(underWay.All()); n != streamHomes {
				t.Errorf("%d of %d messages wait, the others were acknowledged by a clock of three years ago", n, streamHomes)
			}
			ahead.Store(0)
			continue // the client sends it again
		case 1600:
			ahead.Store(int64(3 * 24 * time.Hour))
		}
		publishMinute(t, client, minute).Wait()
	}
	tick := time.NewTicker(10 * time.Millisecond)
	defer tick.Stop()
	for len(underWay.All()) > 0 {
		<-tick.C
	}
	client.Disconnect(100)
	stop()
	verify(t, streamOptions(dir, "127.0.0.1:0", ""))
}

// publishMinute sends a minute of every home, and gives the last one's token.
func publishMinute(t *testing.T, client mqtt.Client, minute int) (last mqtt.Token) {
	t.Helper()
	for i := range streamHomes {
		home := fmt.Sprintf("home-%d", i)
		payload, err := senml.AppendJSON(nil, "meter", minuteOf(home, minute))
		if err != nil {
			t.Fatal(err)
		}
		last = client.Publish("homes/"+home+"/sensors/meter", 1, false, payload)
	}
	return last
}

// tear cuts the last bytes off a file.
func tear(t *testing.T, path string) {
	t.Helper()
	info, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	const bytes = 1000 // less than a page
	if info.Size() <= bytes {
		t.Fatalf("%s holds %d bytes", path, info.Size())
	}
	if err := os.Truncate(path, info.Size()-bytes); err != nil {
		t.Fatal(err)
	}
}
