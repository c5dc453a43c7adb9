package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"
	"golang.org/x/sync/errgroup"

	"brinebell/collector"
	"brinebell/dashboards/access"
	"brinebell/dashboards/api"
	"brinebell/dashboards/mailpicture"
	"brinebell/dashboards/setup"
	"brinebell/dashboards/web"
	"brinebell/detect"
	"brinebell/detect/care"
)

// The bounds of the HTTP server.
const (
	headerTimeout = 10 * time.Second // a slow client must not hold a connection for nothing
	idleTimeout   = 2 * time.Minute
	// stopTimeout is how long pages being sent may take once a stop is asked for.
	stopTimeout = 5 * time.Second
)

// service is a collector with its pages.
type service struct {
	collector *collector.Collector
	source    *source
	pages     *web.Server
	listener  net.Listener
	http      *http.Server
	logger    *slog.Logger
	unlock    func() error // of the folder
	control   *control     // nil where none can be
	gate      *access.Gate // nil where nobody signs in
	api       *api.API
	setup     *setup.Server
}

// serviceOptions say what a service is made of.
type serviceOptions struct {
	collector collector.Options // its Registerer and Changed are set here
	listen    string            // of the pages
	title     string
	changed   func([]detect.Alert) // told of alerts; may be nil
	// actsAs is who acts on cases where nobody signs in, as in a demonstration.
	actsAs care.Person
	// accounts are who may come in; nil: everybody, and nobody signs in.
	accounts *accounts
}

// openService opens the stores and binds both addresses; nothing runs yet.
func openService(ctx context.Context, o serviceOptions) (s *service, err error) {
	metrics := prometheus.NewRegistry()
	metrics.MustRegister(collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	s = &service{source: newSource(), logger: o.collector.Logger}
	o.collector.Registerer = metrics
	o.collector.Care.Painter = mailpicture.Painter{Source: evidenceSource{s.source}}
	o.collector.Changed = func(alerts []detect.Alert) {
		s.source.changed()
		if o.changed != nil {
			o.changed(alerts)
		}
	}
	if s.unlock, err = lockFolder(o.collector.Dir); err != nil {
		return nil, err
	}
	if s.collector, err = collector.Open(ctx, o.collector); err != nil {
		return nil, errors.Join(err, s.unlock())
	}
	opened := s // a failed return sets s to nil before the deferred call
	defer func() {
		if err != nil {
			err = errors.Join(err, opened.Close())
		}
	}()
	s.source.collector = s.collector
	s.collector.Cases().Changed(func(string) { s.source.changed() })
	s.control = openControl(o.collector.Dir, s.collector, o.collector.Logger)
	if s.listener, err = net.Listen("tcp", o.listen); err != nil {
		return nil, fmt.Errorf("pages: %w", err)
	}
	if err = s.openDoor(o); err != nil {
		return nil, err
	}
	if s.pages, err = web.New(s.pageOptions(o)); err != nil {
		return nil, err
	}
	s.http = &http.Server{Handler: s.routes(metrics), ReadHeaderTimeout: headerTimeout, IdleTimeout: idleTimeout,
		ErrorLog: slog.NewLogLogger(o.collector.Logger.Handler(), slog.LevelWarn)}
	s.http.RegisterOnShutdown(s.pages.Close)
	s.http.RegisterOnShutdown(s.api.Close)
	return s, nil
}

func (s *service) routes(metrics *prometheus.Registry) http.Handler {
	mux := http.NewServeMux()
	mux.Handle("/", s.pages.Handler())
	mux.Handle("GET /metrics", promhttp.HandlerFor(metrics, promhttp.HandlerOpts{}))
	mux.HandleFunc("GET /healthz", s.health)
	mux.Handle(api.Prefix+"/", s.api.Handler())
	s.setup.Register(mux)
	return s.guarded(mux)
}

// health answers 200 while everything works, else 503 with what does not.
func (s *service) health(w http.ResponseWriter, _ *http.Request) {
	h := s.collector.Health()
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	if !h.Ready || !h.Connected {
		w.WriteHeader(http.StatusServiceUnavailable)
	}
	// The client may be gone; there is nobody else to tell.
	_ = json.NewEncoder(w).Encode(map[string]bool{"ready": h.Ready, "connected": h.Connected})
}

// URL is where the pages are.
func (s *service) URL() string { return "http://" + s.listener.Addr().String() + "/" }

// Run collects and serves until ctx ends or a part fails.
func (s *service) Run(ctx context.Context) error {
	g, ctx := errgroup.WithContext(ctx)
	g.Go(func() error { return s.collector.Run(ctx) })
	g.Go(func() error { return s.control.Run(ctx) })
	g.Go(func() error { return s.pages.Run(ctx) })
	g.Go(func() error { return s.runDoor(ctx) })
	g.Go(func() error {
		if err := s.http.Serve(s.listener); !errors.Is(err, http.ErrServerClosed) {
			return fmt.Errorf("pages: %w", err)
		}
		return nil
	})
	g.Go(func() error {
		<-ctx.Done()
		stop, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopTimeout)
		defer cancel()
		if err := s.http.Shutdown(stop); err != nil {
			s.logger.Warn("pages were cut off", "after", stopTimeout, "error", err)
		}
		return nil
	})
	err := g.Wait()
	if errors.Is(err, context.Canceled) {
		return nil
	}
	return err
}

// Close closes the stores, once Run has returned.
func (s *service) Close() error {
	if s.listener != nil && s.http == nil {
		_ = s.listener.Close() // bound and never served
	}
	s.control.Close()
	return errors.Join(s.collector.Close(), s.unlock())
}
