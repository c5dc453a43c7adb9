package series

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"brinebell/detect"
)

// Why a single reading was not stored. Storing it again would not help.
var (
	ErrTooOld   = errors.New("older than the store takes in")
	ErrConflict = errors.New("another value of the same signal and millisecond is stored already")
	// ErrRefused is any other reason; what wraps it says which.
	ErrRefused = errors.New("refused by the store")
)

// ErrUnavailable is wrapped by what a store answers while the server behind it
// is down, cut off, overloaded or not set up: the same call will work later.
var ErrUnavailable = errors.New("the series store cannot be used now")

// Point is one stored value.
type Point struct {
	Time  time.Time // UTC, whole milliseconds
	Value float64
}

// Rejected is a reading of a batch that was not stored.
type Rejected struct {
	Index int   // in the batch
	Err   error // ErrTooOld, ErrConflict or ErrRefused, perhaps wrapped
}

// Finite says why a value cannot be stored, or nil: it must be a number.
func Finite(v float64) error {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return fmt.Errorf("%w: %v is not a number", ErrRefused, v)
	}
	return nil
}

// HomeReader is a store that reads all signals of a home at once in less time
// than one by one, as a server does.
type HomeReader interface {
	// ReadHome is as the function ReadHome.
	ReadHome(ctx context.Context, home string, from, to time.Time) ([]detect.Reading, error)
}

// Runner is a store with work of its own to do while it is used. Run returns
// when ctx ends.
type Runner interface {
	Run(ctx context.Context) error
}

// Store keeps readings. Every method may be called by several goroutines at a
// time.
type Store interface {
	// Append stores a batch; times are cut to the millisecond. When it returns
	// without an error every reading that is not among the rejected is durable
	// and visible to Read. With an error nothing can be said of the batch and it
	// should be appended again: a reading stored twice is one reading. Of two
	// values for one millisecond the first stored stays where the store can
	// tell (the later is then rejected as ErrConflict), and one of them else.
	Append(ctx context.Context, readings []detect.Reading) ([]Rejected, error)
	// Read gives the points of from <= time < to in order of time.
	Read(ctx context.Context, home string, signal detect.Signal, from, to time.Time) ([]Point, error)
	// Latest is the newest point; ok is false when there is none.
	Latest(ctx context.Context, home string, signal detect.Signal) (p Point, ok bool, err error)
	// Oldest is a time before which no home has points; ok is false when there
	// are none at all.
	Oldest(ctx context.Context) (t time.Time, ok bool, err error)
	// Signals are the signals that a home has any points of, in order.
	Signals(ctx context.Context, home string) ([]detect.Signal, error)
	// Homes are the ids of all homes that have points, sorted.
	Homes(ctx context.Context) ([]string, error)
	// Close makes everything durable and ends the store's work.
	Close() error
}
