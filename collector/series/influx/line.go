package influx

import (
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"brinebell/collector/series"
	"brinebell/detect"
)

// tagEscapes are those of a tag's value in the line protocol.
var tagEscapes = strings.NewReplacer(",", `\,`, "=", `\=`, " ", `\ `)

// appendLine appends a reading in the line protocol, without a line end; times
// are milliseconds.
func appendLine(out []byte, r detect.Reading) []byte {
	out = append(out, r.Signal.String()...)
	out = append(out, ",home="...)
	out = append(out, tagEscapes.Replace(r.Home)...)
	out = append(out, " value="...)
	out = strconv.AppendFloat(out, r.Value, 'g', -1, 64)
	out = append(out, ' ')
	return strconv.AppendInt(out, r.Time.UnixMilli(), 10)
}

// carries says why a home's name cannot go through the line protocol, or nil. A
// backslash is left out altogether, as what it means depends on what follows it.
func carries(home string) error {
	bad := func(c rune) bool { return c == '\\' || c == utf8.RuneError || unicode.IsControl(c) }
	if home == "" || strings.ContainsFunc(home, bad) {
		return fmt.Errorf("%w: the home's name %q is empty or has a backslash or control character in it", series.ErrRefused, home)
	}
	return nil
}
