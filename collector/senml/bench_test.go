package senml

import (
	"encoding/hex"
	"testing"
	"time"

	"brinebell/detect"
)

func BenchmarkDecode(b *testing.B) {
	one := []byte(`[{"bn":"mill-lane-4/meter/","bt":1772366400.25,"n":"inlet_volume","u":"m3","v":123.4567}]`)
	var six []detect.Reading
	for s := range detect.Signal(6) {
		six = append(six, detect.Reading{Home: "mill-lane-4", Signal: s, Time: noon.Add(time.Duration(s) * time.Second), Value: 12.5})
	}
	sixJSON, err := AppendJSON(nil, "meter", six)
	if err != nil {
		b.Fatal(err)
	}
	example, err := hex.DecodeString(exampleCBOR)
	if err != nil {
		b.Fatal(err)
	}
	for name, data := range map[string][]byte{"json-1": one, "json-6": sixJSON, "cbor-7": example} {
		b.Run(name, func(b *testing.B) {
			var d Decoder
			b.ReportAllocs()
			for b.Loop() {
				if _, err := d.Any(data, noon); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkEncode(b *testing.B) {
	readings := []detect.Reading{{Home: "mill-lane-4", Signal: detect.InletVolume, Time: noon, Value: 123.4567}}
	var buffer []byte
	b.ReportAllocs()
	for b.Loop() {
		var err error
		if buffer, err = AppendJSON(buffer[:0], "meter", readings); err != nil {
			b.Fatal(err)
		}
	}
}
