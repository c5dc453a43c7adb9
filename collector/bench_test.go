package collector_test

import (
	"fmt"
	"strconv"
	"sync/atomic"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"brinebell/collector"
	"brinebell/collector/mosquittotest"
	"brinebell/collector/senml"
	"brinebell/detect"
)

// BenchmarkEndToEnd sends messages of one reading at QoS 1 through Mosquitto,
// to a subscriber that does nothing and to a collector that makes each durable
// before it acknowledges, and gives the ratio. Publishers, broker and
// subscriber share the machine.
func BenchmarkEndToEnd(b *testing.B) {
	const messages = 50_000
	var idle, whole float64
	for range b.N {
		idle += messages / toNobody(b, messages).Seconds()
		whole += messages / toCollector(b, messages).Seconds()
	}
	b.ReportMetric(idle/float64(b.N), "noop-msg/s")
	b.ReportMetric(whole/float64(b.N), "collector-msg/s")
	b.ReportMetric(whole/idle, "ratio")
	b.ReportMetric(0, "ns/op")
}

func toNobody(b *testing.B, n int) time.Duration {
	url := mosquittotest.Start(b)
	all := make(chan struct{})
	var got atomic.Int64
	c := mqtt.NewClient(mqtt.NewClientOptions().AddBroker(url).SetClientID("nobody").SetCleanSession(false))
	if token := c.Connect(); token.Wait() && token.Error() != nil {
		b.Fatal(token.Error())
	}
	defer c.Disconnect(100)
	token := c.Subscribe("homes/+/sensors/+", 1, func(mqtt.Client, mqtt.Message) {
		if got.Add(1) == int64(n) {
			close(all)
		}
	})
	if token.Wait() && token.Error() != nil {
		b.Fatal(token.Error())
	}
	began := time.Now()
	publishAll(b, url, n)
	<-all
	return time.Since(began)
}

func toCollector(b *testing.B, n int) time.Duration {
	url := mosquittotest.Start(b)
	c, stop := running(b, collector.Options{Dir: b.TempDir(), Homes: homes(100), Broker: collector.BrokerOptions{URL: url},
		Clock: func() time.Time { return streamClock() }})
	defer stop()
	for !c.Health().Connected {
		time.Sleep(time.Millisecond)
	}
	began := time.Now()
	publishAll(b, url, n)
	last := "home-" + strconv.Itoa((n-1)%100)
	for want := readingOf(n - 1).Value; ; time.Sleep(2 * time.Millisecond) {
		if latest, err := c.Latest(b.Context(), last); err == nil && latest[detect.InletVolume].Value == want {
			break
		}
	}
	return time.Since(began)
}

func readingOf(i int) detect.Reading {
	return detect.Reading{Home: fmt.Sprintf("home-%d", i%100), Signal: detect.InletVolume,
		Time: streamStart.Add(time.Duration(i/100) * 10 * time.Second), Value: float64(i / 100)}
}

// publishAll publishes n messages and returns when all are acknowledged by the
// broker.
func publishAll(b *testing.B, url string, n int) {
	p := connect(b, url)
	defer p.Disconnect(100)
	window := make(chan mqtt.Token, 1000)
	done := make(chan struct{})
	go func() {
		defer close(done)
		for token := range window {
			token.Wait()
		}
	}()
	for i := range n {
		r := readingOf(i)
		payload, err := senml.AppendJSON(nil, "meter", []detect.Reading{r})
		if err != nil {
			b.Fatal(err)
		}
		window <- p.Publish("homes/"+r.Home+"/sensors/meter", 1, false, payload)
	}
	close(window)
	<-done
}
