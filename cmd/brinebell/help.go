package main

import (
	"fmt"
	"reflect"
	"strings"

	"github.com/spf13/cobra"

	"brinebell/detect"
	"brinebell/detect/cause"
)

// topics are the texts that help has beside the commands. They are made from
// what reads the files, so that they say what it does.
func topics() []*cobra.Command {
	return []*cobra.Command{
		{Use: "homes", Short: "The homes file, key by key", Long: homesTopic()},
		{Use: "config", Short: "The configuration of serve, key by key", Long: configTopic()},
		{Use: "signals", Short: "What sensors can measure, and in which unit", Long: signalsTopic()},
		{Use: "faults", Short: "What can break, as --faults and truth files name it", Long: faultsTopic()},
	}
}

// keyWidth is the column in which the words about a key begin.
const keyWidth = 24

// writeKey writes a key as it stands in YAML, and about it.
func writeKey(b *strings.Builder, path, about, value, usual string) {
	levels := strings.Split(path, ".")
	indent := strings.Repeat("  ", len(levels)-1)
	for _, l := range levels[:len(levels)-1] {
		if strings.HasSuffix(l, "[]") {
			indent += "  " // the hyphen
		}
	}
	fmt.Fprintf(b, "%-*s %s\n", keyWidth, indent+levels[len(levels)-1]+":", about)
	switch {
	case value != "" && usual != "":
		value += "; else " + usual
	case usual != "":
		value = usual + " when left out"
	}
	if value != "" {
		fmt.Fprintf(b, "%*s   %s\n", keyWidth, "", value)
	}
}

func homesTopic() string {
	var b strings.Builder
	b.WriteString(`A homes file says what each home is: who lives there, its water, its softener and
its sensors. Only id and timezone are required.

  homes:
    - id: mill-lane-4
      timezone: Europe/Dublin
      water: {hardness: 300 mg/L}
      softener: {resin: 28.3 L, salt_dose: 2.7 kg, regeneration_time: "02:00"}
      meters:
        inlet: {pulse: 0.1 L, starting_flow: 0.1 L/min}
        drain: {pulse: 0.1 L}
    - id: cedar-court-3
      timezone: America/Chicago
      units: us
      water: {hardness: 18 gpg, iron: 0.5 mg/L}
      softener: {resin: 1 ft3, capacity: 20000 grains, salt_dose: 6 lb}

Quantities carry their unit, in brackets below where there is a choice. "else" is
what holds when the key is left out.

`)
	for _, k := range detect.ProfileKeys() {
		writeKey(&b, k.Path, k.About, k.Value, k.Default)
	}
	return strings.TrimSuffix(b.String(), "\n")
}

func configTopic() string {
	var b strings.Builder
	b.WriteString(`The configuration of "brinebell serve". Paths are relative to the file. Only
broker.listen or broker.url is required.

  homes: homes.yaml
  broker: {listen: "0.0.0.0:1883"}
  adapters:
    - topic: plumbing/{home}/main
      pointer: /total_gal
      signal: inlet_volume
      unit: gal

"when left out" tells the default.

`)
	writeConfigKeys(&b, reflect.ValueOf(defaultConfig()), "")
	return strings.TrimSuffix(b.String(), "\n")
}

// writeConfigKeys describes the keys of a configuration by their doc tags, with
// the defaults in v.
func writeConfigKeys(b *strings.Builder, v reflect.Value, path string) {
	for i := range v.NumField() {
		f, value := v.Type().Field(i), v.Field(i)
		key := yamlKey(f)
		if key == "" {
			continue
		}
		key = path + key
		switch {
		case value.Kind() == reflect.Struct:
			writeKey(b, key, f.Tag.Get("doc"), "", "")
			writeConfigKeys(b, value, key+".")
		case value.Kind() == reflect.Slice && f.Type.Elem().Kind() == reflect.Struct:
			writeKey(b, key, f.Tag.Get("doc"), "a list", "")
			writeConfigKeys(b, reflect.Zero(f.Type.Elem()), key+"[].")
		default:
			writeKey(b, key, f.Tag.Get("doc"), "", usualText(value))
		}
	}
}

// usualText is a default as it would be written, empty for none.
func usualText(v reflect.Value) string {
	if s, ok := v.Interface().(fmt.Stringer); ok {
		return s.String()
	}
	if v.IsZero() || v.Kind() == reflect.Map || v.Kind() == reflect.Slice {
		return ""
	}
	return fmt.Sprint(v.Interface())
}

func signalsTopic() string {
	var b strings.Builder
	b.WriteString(`What sensors can measure. A recording is in these units; SenML carries its own, and
an adapter can convert.

The least a home needs is one flow or volume and brine_level. Either of a flow and
its running total will do; a total also bridges gaps.

`)
	for s := range detect.NumSignals {
		fmt.Fprintf(&b, "  %-18s %-6s %s\n", s, s.Unit(), s.About())
	}
	return strings.TrimSuffix(b.String(), "\n")
}

func faultsTopic() string {
	var b strings.Builder
	b.WriteString(`What can break, or be the cause of a finding. "brinebell simulate --faults" takes
these, truth files and the causes of alerts name them.

`)
	for _, c := range detect.Causes() {
		fmt.Fprintf(&b, "  %-18s %s\n", c, cause.Lookup(c).Title)
	}
	return strings.TrimSuffix(b.String(), "\n")
}
