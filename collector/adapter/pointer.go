package adapter

import (
	"fmt"
	"strconv"
	"strings"
)

// pointer is a parsed JSON pointer (RFC 6901): its reference tokens. An empty
// one is the whole document.
type pointer []string

// parsePointer reads a JSON pointer.
func parsePointer(text string) (pointer, error) {
	if text == "" {
		return nil, nil
	}
	if text[0] != '/' {
		return nil, fmt.Errorf("%q does not begin with / (RFC 6901)", text)
	}
	var p pointer
	for _, token := range strings.Split(text[1:], "/") {
		if bad := strings.NewReplacer("~0", "", "~1", "").Replace(token); strings.Contains(bad, "~") {
			return nil, fmt.Errorf("%q has a ~ that is neither ~0 nor ~1 (RFC 6901)", text)
		}
		// ~1 first: ~01 is ~1, not / (RFC 6901, section 4).
		p = append(p, strings.ReplaceAll(strings.ReplaceAll(token, "~1", "/"), "~0", "~"))
	}
	return p, nil
}

// in finds what p points at in a decoded document.
func (p pointer) in(document any) (any, error) {
	for _, token := range p {
		var found bool
		switch v := document.(type) {
		case map[string]any:
			document, found = v[token]
		case []any:
			if i, ok := index(token); ok && i < len(v) {
				document, found = v[i], true
			}
		}
		if !found {
			return nil, fmt.Errorf("nothing at %q", "/"+strings.Join(p, "/"))
		}
	}
	return document, nil
}

// index reads an array index: digits without leading zeros (RFC 6901, section 4).
func index(token string) (int, bool) {
	if len(token) > 1 && token[0] == '0' || strings.HasPrefix(token, "+") {
		return 0, false
	}
	i, err := strconv.Atoi(token)
	return i, err == nil && i >= 0
}
