package intake

import (
	"context"
	"errors"
	"log/slog"
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"brinebell/collector/adapter"
	"brinebell/collector/series"
	"brinebell/detect"
)

// The defaults of Options.
const (
	// DefaultQueue holds a second of the fastest broker.
	DefaultQueue = 32768
	// DefaultBatch bounds what is lost in time when a commit fails.
	DefaultBatch = 8192
	// DefaultQuarantine is what a person can look through.
	DefaultQuarantine = 200
	// DefaultQuarantineBytes shows a small pack whole.
	DefaultQuarantineBytes = 512
	// MaxAhead is how far ahead of the clock a reading may be: two clocks in
	// different ideas of their time zone are at most a day apart.
	MaxAhead = 24 * time.Hour
	// retryFirst and retryMost are the pauses between attempts to commit while
	// the store refuses, doubling from one to the other.
	retryFirst, retryMost = 50 * time.Millisecond, 5 * time.Second
	// attempts is how often a batch is tried before its messages are given back
	// to be sent again: some half a minute.
	attempts = 10
)

// Options say what the intake works with. Store, Judge, Known and Clock must be
// set.
type Options struct {
	Store    series.Store
	Judge    Judge
	Known    func(home string) bool // whether a home has this id
	Clock    func() time.Time       // the present, against which relative and future times are held
	Newest   time.Time              // of the readings stored already, roughly; the present is not long before it. May be zero
	Room     func() error           // says why nothing can be stored now, as when the disk is nearly full; may be nil
	Adapters []*adapter.Adapter     // of sensors with their own topics
	Queue    int                    // messages that may wait; DefaultQueue when 0
	Batch    int                    // messages committed at once at most; DefaultBatch when 0
	// Gather is how long a batch waits for more messages after its first. 0,
	// the default, takes what is there: the next batch gathers meanwhile.
	Gather          time.Duration
	Quarantine      int                   // entries; DefaultQuarantine when 0
	QuarantineBytes int                   // of each payload; DefaultQuarantineBytes when 0
	Logger          *slog.Logger          // nil for none
	Registerer      prometheus.Registerer // nil for none
}

func (o Options) validate() error {
	if o.Store == nil || o.Judge == nil || o.Known == nil || o.Clock == nil {
		return errors.New("intake: Store, Judge, Known and Clock must be set")
	}
	return nil
}

func (o Options) withDefaults() Options {
	defaultTo(&o.Queue, DefaultQueue)
	defaultTo(&o.Batch, DefaultBatch)
	defaultTo(&o.Quarantine, DefaultQuarantine)
	defaultTo(&o.QuarantineBytes, DefaultQuarantineBytes)
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	return o
}

func defaultTo(n *int, value int) {
	if *n == 0 {
		*n = value
	}
}

// Intake takes messages in.
type Intake struct {
	opts       Options
	queue      chan Message
	stopped    chan struct{} // closed when Run no longer takes from the queue
	metrics    *metrics
	quarantine quarantine
	hearing    hearing
	present    present
	complaints complaints
	batch      batch
	committing sync.Mutex // held while a batch is decoded, committed and judged
}

// Between waits for the batch that is being committed, if any: what Known says
// afterwards holds for all that is stored.
func (in *Intake) Between() {
	in.committing.Lock()
	defer in.committing.Unlock() // to have waited is all
}

// New makes an intake, which works while Run does.
func New(opts Options) (*Intake, error) {
	opts = opts.withDefaults()
	if err := opts.validate(); err != nil {
		return nil, err
	}
	in := &Intake{opts: opts, queue: make(chan Message, opts.Queue), stopped: make(chan struct{}),
		quarantine: quarantine{size: opts.Quarantine, bytes: opts.QuarantineBytes, entries: map[quarantineKey]*Quarantined{}},
		batch:      batch{decoder: decoder{adapters: opts.Adapters}}}
	in.present.least = opts.Newest.Add(-MaxAhead)
	var err error
	in.metrics, err = newMetrics(opts.Registerer, func() float64 { return float64(len(in.queue)) })
	return in, err
}

// Offer hands a message in, waiting while the queue is full. After an error
// Done is not called.
func (in *Intake) Offer(ctx context.Context, m Message) error {
	select {
	case <-in.stopped:
		return ErrStopped
	default:
	}
	select {
	case in.queue <- m:
		return nil
	case <-in.stopped:
		return ErrStopped
	case <-ctx.Done():
		return ctx.Err()
	}
}

// Quarantine lists what could not be used, newest first.
func (in *Intake) Quarantine() []Quarantined { return in.quarantine.list() }

// Run commits messages until ctx ends, then what still waits, and returns. It
// can be run once.
func (in *Intake) Run(ctx context.Context) error {
	for {
		select {
		case m := <-in.queue:
			in.gather(ctx, m)
			in.commit(ctx)
		case <-ctx.Done():
			return in.drain()
		}
	}
}

// gather fills the batch with what waits.
func (in *Intake) gather(ctx context.Context, first Message) {
	in.batch.messages = append(in.batch.messages[:0], first)
	var patience <-chan time.Time
	if in.opts.Gather > 0 {
		timer := time.NewTimer(in.opts.Gather)
		defer timer.Stop()
		patience = timer.C
	}
	for len(in.batch.messages) < in.opts.Batch {
		select {
		case m := <-in.queue:
			in.batch.messages = append(in.batch.messages, m)
			continue
		default:
		}
		if patience == nil {
			return
		}
		select {
		case m := <-in.queue:
			in.batch.messages = append(in.batch.messages, m)
		case <-patience:
			return
		case <-ctx.Done():
			return
		}
	}
}

// drainTime bounds the commits after the end: a store that hangs must not keep
// the process from stopping, and what is not committed is not acknowledged.
const drainTime = 20 * time.Second

// drain commits what waits at the end and refuses what comes after it.
func (in *Intake) drain() error {
	close(in.stopped)
	ctx, cancel := context.WithTimeout(context.Background(), drainTime)
	defer cancel()
	for {
		select {
		case m := <-in.queue:
			in.gather(ctx, m)
			in.commit(ctx)
		default:
			return nil
		}
	}
}

// batch is the memory of one commit, used again for the next.
type batch struct {
	decoder  decoder
	messages []Message
	readings []detect.Reading
	owner    []int // of each reading: the index of its message
	faults   []fault
	faulty   []int // faults of each message
	used     []int // readings of each message
}
