package main

import (
	"errors"
	"fmt"
	"reflect"
	"regexp"
	"strings"

	"go.yaml.in/yaml/v3"
)

// What the YAML decoder says, in its words.
var (
	yamlAnywhere = regexp.MustCompile(`^(?:yaml: )?line (\d+): (.*)$`)
	yamlUnknown  = regexp.MustCompile(`^field (\S+) not found in type (\S+)$`)
	yamlKind     = regexp.MustCompile("^cannot unmarshal !!(\\w+)(?: `(.*)`)? into (\\S+)$")
	yamlTwice    = regexp.MustCompile(`^mapping key (".*") already defined at line (\d+)$`)
)

// plainYAML says what the decoder says as file:line: why, with the keys there
// are in place of the names of Go types.
func plainYAML(path string, err error, keys map[string][]string) error {
	var types *yaml.TypeError
	if !errors.As(err, &types) {
		types = &yaml.TypeError{Errors: []string{err.Error()}}
	}
	var all []error
	for _, text := range types.Errors {
		m := yamlAnywhere.FindStringSubmatch(text)
		if m == nil {
			all = append(all, fmt.Errorf("%s: %s", path, strings.TrimPrefix(text, "yaml: ")))
			continue
		}
		all = append(all, fmt.Errorf("%s:%s: %s", path, m[1], plainWhy(m[2], keys)))
	}
	return errors.Join(all...)
}

func plainWhy(why string, keys map[string][]string) string {
	if m := yamlUnknown.FindStringSubmatch(why); m != nil {
		return fmt.Sprintf("unknown key %q: use %s", m[1], strings.Join(keys[m[2]], ", "))
	}
	if m := yamlTwice.FindStringSubmatch(why); m != nil {
		return fmt.Sprintf("the key %s was given before, on line %s", m[1], m[2])
	}
	if m := yamlKind.FindStringSubmatch(why); m != nil {
		return plainKind(m[1], m[2], m[3], keys)
	}
	return why
}

// plainKind says what was expected in place of a value.
func plainKind(tag, value, goType string, keys map[string][]string) string {
	want := "a text"
	switch {
	case keys[goType] != nil:
		want = "keys with values: " + strings.Join(keys[goType], ", ")
	case strings.HasPrefix(goType, "[]"):
		want = "a list, each item after a hyphen"
	case strings.HasPrefix(goType, "map["):
		want = "names with values"
	case strings.Contains(goType, "int"):
		want = "a whole number"
	case strings.Contains(goType, "float"):
		want = "a number"
	case goType == "bool":
		want = "true or false"
	}
	got := map[string]string{"map": "keys with values", "seq": "a list"}[tag]
	if value != "" {
		got = fmt.Sprintf("%q", value)
	}
	if got == "" {
		return "expected " + want
	}
	return fmt.Sprintf("expected %s, found %s", want, got)
}

// keysByType are the keys of a configuration's types, by the type's Go name.
func keysByType(t reflect.Type) map[string][]string {
	all := map[string][]string{}
	gatherKeys(t, all)
	return all
}

func gatherKeys(t reflect.Type, all map[string][]string) {
	for t.Kind() == reflect.Slice || t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	if t.Kind() != reflect.Struct || all[t.String()] != nil {
		return
	}
	for i := range t.NumField() {
		if key := yamlKey(t.Field(i)); key != "" {
			all[t.String()] = append(all[t.String()], key)
			gatherKeys(t.Field(i).Type, all)
		}
	}
}

// yamlKey is the key of a field, empty for one that is none.
func yamlKey(f reflect.StructField) string {
	key, _, _ := strings.Cut(f.Tag.Get("yaml"), ",")
	return strings.TrimPrefix(key, "-")
}

// inFile puts the file's name before each of some errors.
func inFile(path string, err error) error {
	var many interface{ Unwrap() []error }
	if !errors.As(err, &many) {
		return fmt.Errorf("%s: %w", path, err)
	}
	var all []error
	for _, e := range many.Unwrap() {
		all = append(all, fmt.Errorf("%s: %w", path, e))
	}
	return errors.Join(all...)
}
