package main

import (
	"context"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"

	"brinebell/collector"
)

// controlSocket is by which other commands of the same user reach a running
// service; it is in the data folder.
const controlSocket = "control.sock"

// control serves what needs the stores of a running service.
type control struct {
	listener net.Listener
	server   *http.Server
}

// openControl binds the socket. That it cannot, as where the folder's name is too
// long for one, is no reason not to serve.
func openControl(data string, c *collector.Collector, logger *slog.Logger) *control {
	path := filepath.Join(data, controlSocket)
	_ = os.Remove(path) // left by a crash: the folder is ours alone
	l, err := net.Listen("unix", path)
	if err == nil {
		err = errors.Join(os.Chmod(path, 0o600))
	}
	if err != nil {
		logger.Warn("no backup can be made while this runs", "error", err)
		return nil
	}
	mux := http.NewServeMux()
	mux.HandleFunc("POST /backup", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "application/x-tar")
		m, err := c.Backup(r.Context(), w, version)
		if err != nil { // the archive lacks its end, by which the other side knows
			logger.Error("a backup could not be made", "error", err)
			return
		}
		logger.Info("a backup was made", "files", len(m.Files), "bytes", m.Bytes())
	})
	return &control{l, &http.Server{Handler: mux, ReadHeaderTimeout: headerTimeout}}
}

// Run serves until ctx ends. Backups under way are cut off.
func (c *control) Run(ctx context.Context) error {
	if c == nil {
		return nil
	}
	stop := context.AfterFunc(ctx, func() { _ = c.server.Close() })
	defer stop()
	if err := c.server.Serve(c.listener); !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}

// Close gives the socket up, if Run was never called.
func (c *control) Close() {
	if c != nil {
		_ = c.server.Close()
		_ = c.listener.Close()
	}
}

// errNotRunning means that no service uses a data folder.
var errNotRunning = errors.New("nothing runs with this data folder")

// askRunning sends a request to the service that runs with a data folder.
func askRunning(ctx context.Context, data, path string) (*http.Response, error) {
	client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true, DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) {
		conn, err := (&net.Dialer{}).DialContext(ctx, "unix", filepath.Join(data, controlSocket))
		if err != nil {
			return nil, errors.Join(errNotRunning, err)
		}
		return conn, nil
	}}}
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, "http://brinebell"+path, nil)
	if err != nil {
		return nil, err
	}
	return client.Do(request)
}
