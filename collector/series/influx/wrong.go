package influx

import (
	"cmp"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"

	ihttp "github.com/influxdata/influxdb-client-go/v2/api/http"

	"brinebell/collector/series"
)

// fault is whose fault a failed request is.
type fault int

const (
	ofServer fault = iota // or of the way to it: the same again, later
	ofPoints              // the server will not take them, ever
)

// wrong is what went wrong with a request.
type wrong struct {
	kind fault
	text string
}

// whatIsWrong reads a failed request. Only answers that the server gives for
// what points say are held against them: 400 (malformed, of another type than
// stored, beyond retention in 1.8), 413 (too large, halving helps) and 422 (beyond
// retention in 2). See "Write data", InfluxDB OSS v2 API, response codes.
func whatIsWrong(err error) wrong {
	var answer *ihttp.Error
	if !errors.As(err, &answer) || answer.StatusCode == 0 {
		return wrong{ofServer, err.Error()}
	}
	text := strings.TrimSpace(cmp.Or(answer.Message, answer.Error()))
	switch answer.StatusCode {
	case http.StatusBadRequest, http.StatusRequestEntityTooLarge, http.StatusUnprocessableEntity:
		return wrong{ofPoints, text}
	case http.StatusUnauthorized, http.StatusForbidden:
		text += " (check the token, or user and password, and what they may do with the bucket)"
	case http.StatusNotFound:
		text += ` (check organisation and bucket; "brinebell store setup" makes the bucket)`
	case http.StatusTooManyRequests:
		text += " (it is asked too much)"
	}
	return wrong{ofServer, fmt.Sprintf("%s: %s", http.StatusText(answer.StatusCode), text)}
}

func sortRejected(rejected []series.Rejected) {
	slices.SortFunc(rejected, func(a, b series.Rejected) int { return cmp.Compare(a.Index, b.Index) })
}
