package collector_test

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os"
	"os/exec"
	"os/signal"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"go.uber.org/goleak"

	"brinebell/collector"
	"brinebell/collector/mosquittotest"
	"brinebell/collector/senml"
	"brinebell/detect"
	"brinebell/detect/engine"
)

// The kill tests need three processes. The test binary runs itself again as the
// collector or the publisher when this variable says so.
const roleVariable = "BRINEBELL_TEST_ROLE"

// maxLife ends a process that its test has left behind.
const maxLife = 2 * time.Minute

// lifetime is maxLife, or what a longer test has asked for.
func lifetime() time.Duration {
	if d, err := time.ParseDuration(os.Getenv("LIFETIME")); err == nil {
		return d
	}
	return maxLife
}

func TestMain(m *testing.M) {
	if os.Getenv(roleVariable) != "" {
		time.AfterFunc(lifetime(), func() { exitWith(errors.New("the test has not ended in time")) })
	}
	switch os.Getenv(roleVariable) {
	case "collector":
		exitWith(runCollector())
	case "publisher":
		exitWith(runPublisher())
	case "loaded":
		exitWith(runLoaded())
	default:
		goleak.VerifyTestMain(m)
	}
}

func exitWith(err error) {
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	os.Exit(0)
}

// The stream: three homes that measure every minute for some days. The meter
// counts; the drain begins to run in the middle and does not stop.
const (
	streamHomes   = 3
	streamMinutes = 2400
	messagesASec  = 1800 // slow enough to be killed in the middle
)

var streamStart = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

func streamClock() time.Time { return streamStart.AddDate(0, 0, 3) }

func homes(n int) (out []detect.Home) {
	for i := range n {
		h := detect.DefaultHome(fmt.Sprintf("home-%d", i), time.UTC)
		h.Meters = detect.Meters{Inlet: &detect.Meter{Pulse: 0.1}, Drain: &detect.Meter{Pulse: 0.1}}
		out = append(out, h)
	}
	return out
}

// minuteOf is what a home's device measures in a minute.
func minuteOf(home string, minute int) []detect.Reading {
	at := streamStart.Add(time.Duration(minute) * time.Minute)
	drain := 0.0
	if minute > streamMinutes/2 {
		drain = 1
	}
	return []detect.Reading{
		{Home: home, Signal: detect.InletVolume, Time: at, Value: float64(minute%600 + minute/600*600)},
		{Home: home, Signal: detect.DrainFlow, Time: at, Value: drain},
	}
}

func streamOptions(dir, listen, url string) collector.Options {
	return collector.Options{Dir: dir, Homes: homes(streamHomes), Clock: streamClock,
		Broker: collector.BrokerOptions{Listen: listen, URL: url}}
}

// runCollector is the process that is killed.
func runCollector() error {
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGTERM)
	defer stop()
	fmt.Println("stops when it is told to")
	opts := streamOptions(os.Getenv("DIR"), os.Getenv("LISTEN"), os.Getenv("URL"))
	opts.NoSync = os.Getenv("NOSYNC") != ""
	if os.Getenv("LOG") != "" { // to see what a test does
		opts.Logger = slog.New(slog.NewTextHandler(os.Stderr, nil))
	}
	c, err := collector.Open(ctx, opts)
	if errors.Is(err, context.Canceled) {
		return nil // told to stop before it had begun
	}
	if err != nil {
		return err
	}
	return errors.Join(c.Run(ctx), c.Close())
}

// runPublisher publishes the stream and prints how many messages have been sent
// off, a line each hundred. It ends when the broker has acknowledged all of
// them. A write that fails with its connection is no failure: the client keeps
// the message and sends it again.
func runPublisher() error {
	underWay := mqtt.NewMemoryStore()
	client := mqtt.NewClient(mqtt.NewClientOptions().AddBroker(os.Getenv("URL")).SetClientID("sensors").SetCleanSession(false).
		SetStore(underWay).SetConnectRetry(true).SetConnectRetryInterval(50 * time.Millisecond).SetMaxReconnectInterval(100 * time.Millisecond))
	if token := client.Connect(); token.Wait() && token.Error() != nil {
		return token.Error()
	}
	defer client.Disconnect(100)
	pace := time.NewTicker(10 * time.Millisecond)
	defer pace.Stop()
	sent := 0
	for minute := range streamMinutes {
		for i := range streamHomes {
			home := "home-" + strconv.Itoa(i)
			payload, err := senml.AppendJSON(nil, "meter", minuteOf(home, minute))
			if err != nil {
				return err
			}
			client.Publish("homes/"+home+"/sensors/meter", 1, false, payload)
			if sent++; sent%(messagesASec/100) == 0 {
				<-pace.C
			}
			if sent%100 == 0 {
				fmt.Println(sent)
			}
			for len(underWay.All()) > maxUnderWay {
				<-pace.C
			}
		}
	}
	for len(underWay.All()) > 0 {
		<-pace.C
	}
	return nil
}

// maxUnderWay messages may wait for their acknowledgement.
const maxUnderWay = 64

// process starts the test binary in a role.
func process(t *testing.T, role string, env ...string) *exec.Cmd {
	t.Helper()
	command := exec.Command(os.Args[0])
	command.Env = append(os.Environ(), append(env, roleVariable+"="+role)...)
	command.Stderr = os.Stderr
	return command
}

func startCollector(t *testing.T, env ...string) *exec.Cmd {
	t.Helper()
	command := process(t, "collector", env...)
	out, err := command.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := command.Start(); err != nil {
		t.Fatal(err)
	}
	// From its first line on it stops well when it is told to.
	if _, err := bufio.NewReader(out).ReadString('\n'); err != nil {
		t.Fatalf("the collector did not start: %v", err)
	}
	return command
}

func TestKilledThreeTimesBehindMosquitto(t *testing.T) {
	url := mosquittotest.Start(t)
	dir := t.TempDir()
	strike(t, url, quarters(), restartKilled, "DIR="+dir, "URL="+url)
	verify(t, streamOptions(dir, "", url))
}

func TestKilledThreeTimesAsBroker(t *testing.T) {
	address := freeAddress(t)
	dir := t.TempDir()
	strike(t, "tcp://"+address, quarters(), restartKilled, "DIR="+dir, "LISTEN="+address)
	verify(t, streamOptions(dir, address, ""))
}

func freeAddress(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

// messages are how many the stream has.
const messages = streamHomes * streamMinutes

// quarters of the stream.
func quarters() []int { return []int{messages / 4, messages / 2, messages * 3 / 4} }

// restartKilled kills the collector and starts it again.
func restartKilled(t *testing.T, running *exec.Cmd, env ...string) *exec.Cmd {
	t.Helper()
	kill(t, running)
	return startCollector(t, env...)
}

func kill(t *testing.T, running *exec.Cmd) {
	t.Helper()
	if err := running.Process.Signal(syscall.SIGKILL); err != nil {
		t.Fatal(err)
	}
	_ = running.Wait()
}

// strike publishes the stream to url and does something bad to the collector
// each time that so many messages have been sent off. What was done returns the
// collector that runs then. In the end the collector is stopped, which must
// work.
func strike(t *testing.T, url string, at []int, bad func(*testing.T, *exec.Cmd, ...string) *exec.Cmd, env ...string) {
	t.Helper()
	running := startCollector(t, env...)
	defer func() { _ = running.Process.Kill(); _ = running.Wait() }()
	if strings.HasPrefix(env[1], "URL=") {
		awaitSession(t, url)
	}
	publisher := process(t, "publisher", "URL="+url)
	progress, err := publisher.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := publisher.Start(); err != nil {
		t.Fatal(err)
	}
	defer func() { _ = publisher.Process.Kill() }()
	struck := 0
	for lines := bufio.NewScanner(progress); lines.Scan(); {
		n, err := strconv.Atoi(strings.TrimSpace(lines.Text()))
		if err != nil {
			t.Fatal(err)
		}
		for struck < len(at) && n >= at[struck] {
			struck++
			running = bad(t, running, env...)
		}
	}
	if err := publisher.Wait(); err != nil || struck != len(at) {
		t.Fatalf("publisher: %v after %d of %d", err, struck, len(at))
	}
	stopWell(t, running)
}

// stopWell stops the collector as a service manager does.
func stopWell(t *testing.T, running *exec.Cmd) {
	t.Helper()
	if err := running.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	if err := running.Wait(); err != nil {
		t.Fatalf("the collector did not stop well: %v", err)
	}
}

// awaitSession waits until the collector has subscribed: what is published
// before its first session the broker keeps for nobody. A retained message on
// its own topic would say so too; here the broker is asked for its count.
func awaitSession(t *testing.T, url string) {
	t.Helper()
	subscribed := make(chan struct{}, 100)
	client := mqtt.NewClient(mqtt.NewClientOptions().AddBroker(url).SetClientID("watch"))
	if token := client.Connect(); token.Wait() && token.Error() != nil {
		t.Fatal(token.Error())
	}
	defer client.Disconnect(100)
	token := client.Subscribe("$SYS/broker/subscriptions/count", 0, func(_ mqtt.Client, m mqtt.Message) {
		if n, err := strconv.Atoi(string(m.Payload())); err == nil && n >= 2 {
			subscribed <- struct{}{}
		}
	})
	if token.Wait() && token.Error() != nil {
		t.Fatal(token.Error())
	}
	select {
	case <-subscribed:
	case <-time.After(30 * time.Second):
		t.Fatal("the collector has not subscribed")
	}
}

// verify takes in what the broker still holds and holds the store against the
// stream, and the alerts against an engine that saw the stream in order.
func verify(t *testing.T, opts collector.Options) {
	t.Helper()
	c, err := collector.Open(context.Background(), opts)
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- c.Run(ctx) }()
	awaitStored(t, c)
	stop()
	if err := <-ended; err != nil {
		t.Error(err)
	}
	for i := range streamHomes {
		verifyHome(t, c, "home-"+strconv.Itoa(i))
	}
	if q := c.Quarantine(); len(q) != 0 {
		t.Errorf("in quarantine: %+v", q)
	}
	if err := c.Close(); err != nil {
		t.Error(err)
	}
}

func awaitStored(t *testing.T, c *collector.Collector) {
	t.Helper()
	tick := time.NewTicker(50 * time.Millisecond)
	defer tick.Stop()
	deadline := time.After(20 * time.Second)
	for {
		missing := 0
		for i := range streamHomes {
			missing += streamMinutes - len(stored(t, c, "home-"+strconv.Itoa(i), detect.InletVolume))
		}
		if missing <= 0 && c.Health().Behind == 0 {
			return
		}
		select {
		case <-tick.C:
		case <-deadline:
			t.Fatalf("%d readings of %d were lost", missing, streamHomes*streamMinutes)
		}
	}
}

func stored(t *testing.T, c *collector.Collector, home string, signal detect.Signal) []collector.Bucket {
	t.Helper()
	points, err := c.Points(context.Background(), home, signal, streamStart, streamClock(), 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	return points
}

func verifyHome(t *testing.T, c *collector.Collector, home string) {
	t.Helper()
	for _, signal := range []detect.Signal{detect.InletVolume, detect.DrainFlow} {
		points := stored(t, c, home, signal)
		if len(points) != streamMinutes {
			t.Fatalf("%s of %s has %d readings, %d were published", signal, home, len(points), streamMinutes)
		}
		for minute, p := range points {
			for _, want := range minuteOf(home, minute) {
				if want.Signal == signal && (!p.Start.Equal(want.Time) || p.Count != 1 || p.Mean != want.Value) {
					t.Fatalf("%s of %s, reading %d is %+v, published was %+v", signal, home, minute, p, want)
				}
			}
		}
	}
	all, err := c.Alerts(context.Background(), home)
	if err != nil {
		t.Fatal(err)
	}
	want := reference(home)
	var got []detect.Alert
	for _, a := range all {
		switch {
		case a.Withdrawn.IsZero():
			got = append(got, a.Alert)
		case len(want) == 0 || a.Superseded != want[0].ID:
			// An hour of the stream passes in a fraction of a second, so that what
			// is redelivered is late; but nothing else may be withdrawn.
			t.Errorf("%s, withdrawn without a successor: %+v", home, a)
		}
	}
	if len(want) == 0 || len(got) != len(want) {
		t.Fatalf("%s has %d alerts, want %d: %+v", home, len(got), len(want), got)
	}
	for i, a := range got {
		if a.ID != want[i].ID || a.Kind != want[i].Kind || !a.Onset.Equal(want[i].Onset) || !a.Raised.Equal(want[i].Raised) {
			t.Errorf("%s, alert %+v, want %+v", home, a, want[i])
		}
	}
}

// reference is what an engine raises that sees the stream in order.
func reference(home string) (alerts []detect.Alert) {
	e := engine.New(homes(streamHomes), engine.Options{})
	seen := map[string]bool{}
	for minute := range streamMinutes {
		for _, r := range minuteOf(home, minute) {
			e.Observe(r)
		}
		for _, a := range e.Take() {
			if !seen[a.ID] {
				seen[a.ID] = true
				alerts = append(alerts, a)
			}
		}
	}
	return alerts
}
