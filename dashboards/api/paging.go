package api

import (
	"encoding/base64"

	"github.com/danielgtaylor/huma/v2"
)

// Paging is what a list takes.
type Paging struct {
	After string `query:"after" maxLength:"200" doc:"next of the page before"`
	Limit int    `query:"limit" minimum:"1" maximum:"200" default:"50" doc:"how many at most"`
}

// page is one page of a list.
type page[T any] struct {
	Items []T    `json:"items" nullable:"false"`
	Next  string `json:"next,omitempty" doc:"what to give as after for the next page; not there on the last"`
}

type pageOf[T any] struct{ Body page[T] }

// slice cuts a page out of a sorted list. A cursor names the last key of the
// page before, so that what is added or removed meanwhile moves nothing.
func slice[T any](all []T, key func(T) string, p Paging) (*pageOf[T], error) {
	after, err := decodeCursor(p.After)
	if err != nil {
		return nil, err
	}
	out := &pageOf[T]{Body: page[T]{Items: []T{}}}
	for _, item := range all {
		if p.After != "" && key(item) <= after {
			continue
		}
		if len(out.Body.Items) == p.Limit {
			out.Body.Next = encodeCursor(key(out.Body.Items[p.Limit-1]))
			break
		}
		out.Body.Items = append(out.Body.Items, item)
	}
	return out, nil
}

func encodeCursor(key string) string { return base64.RawURLEncoding.EncodeToString([]byte(key)) }

func decodeCursor(cursor string) (string, error) {
	key, err := base64.RawURLEncoding.DecodeString(cursor)
	if err != nil {
		return "", huma.Error422UnprocessableEntity("after is not what a page gave as next")
	}
	return string(key), nil
}
