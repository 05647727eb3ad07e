package live

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	_ "embed"
	"encoding/hex"
	"errors"
	"fmt"
	"html/template"
	"net"
	"net/http"
	"sync/atomic"
	"time"

	"drystage/harness"
	"drystage/harness/show/chart"
)

//go:embed live.html
var pageText string

//go:embed live.js
var script string

var page = template.Must(template.New("live").Parse(pageText))

// Server serves the page of a hub's run.
type Server struct {
	hub     *Hub
	stop    func()
	token   string // empty: none is wanted
	hosts   map[string]bool
	readers atomic.Int32
	listen  net.Listener
	http    *http.Server
}

// mostReaders is how many browsers may follow a run at once.
const mostReaders = 8

// ErrToken says that an address that others can reach wants a token.
var ErrToken = errors.New("wanted a token of at least 16 characters: others than this computer can reach the address")

// Serve begins to serve at an address, such as 127.0.0.1:0. stop is called when somebody presses the page's button. An address
// other than of the loopback interface wants a token of at least 16 characters, which every request must have.
func Serve(h *Hub, address, token string, stop func()) (*Server, error) {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return nil, harness.Errorf("%s: wanted HOST:PORT, such as 127.0.0.1:8080", address)
	}
	ip := net.ParseIP(host)
	loopback := host == "localhost" || ip != nil && ip.IsLoopback()
	if !loopback && len(token) < 16 {
		return nil, ErrToken
	}
	l, err := net.Listen("tcp", address)
	if err != nil {
		return nil, err
	}
	s := &Server{hub: h, stop: stop, token: token, listen: l}
	if loopback {
		// A name of somebody else that leads here is refused: such a page could read the run.
		_, port, _ := net.SplitHostPort(l.Addr().String())
		s.hosts = map[string]bool{net.JoinHostPort("127.0.0.1", port): true, net.JoinHostPort("localhost", port): true, net.JoinHostPort("::1", port): true, l.Addr().String(): true}
	}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", s.page)
	mux.HandleFunc("GET /events", s.events)
	mux.HandleFunc("POST /stop", s.press)
	s.http = &http.Server{Handler: s.guarded(mux), ReadHeaderTimeout: 5 * time.Second, MaxHeaderBytes: 16 << 10}
	go s.http.Serve(l)
	return s, nil
}

// NewToken makes a token that nobody can guess.
func NewToken() string {
	var b [16]byte
	rand.Read(b[:])
	return hex.EncodeToString(b[:])
}

// URL is where the page is.
func (s *Server) URL() string {
	url := "http://" + s.listen.Addr().String() + "/"
	if s.token != "" {
		url += "?token=" + s.token
	}
	return url
}

// Close ends the service; readers that still follow get a moment for the last messages.
func (s *Server) Close() error {
	s.hub.End()
	ctx, cancel := context.WithTimeout(context.Background(), 300*time.Millisecond)
	defer cancel()
	if err := s.http.Shutdown(ctx); err != nil {
		return s.http.Close()
	}
	return nil
}

// guarded lets only requests with the right host and token through.
func (s *Server) guarded(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; connect-src 'self'; img-src data:; frame-ancestors 'none'; base-uri 'none'; form-action 'none'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cache-Control", "no-store")
		switch {
		case s.hosts != nil && !s.hosts[r.Host]:
			http.Error(w, "this page is at "+s.listen.Addr().String(), http.StatusForbidden)
		case s.token != "" && subtle.ConstantTimeCompare([]byte(r.URL.Query().Get("token")), []byte(s.token)) != 1:
			http.Error(w, "the address lacks the right token", http.StatusForbidden)
		default:
			next.ServeHTTP(w, r)
		}
	})
}

func (s *Server) page(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	page.Execute(w, map[string]any{"Style": template.CSS(chart.Style), "Script": template.JS(script)})
}

// events sends the messages of the run as server-sent events. A reader that takes nothing for ten seconds is left.
func (s *Server) events(w http.ResponseWriter, r *http.Request) {
	if s.readers.Add(1) > mostReaders {
		s.readers.Add(-1)
		http.Error(w, "too many browsers follow this run", http.StatusServiceUnavailable)
		return
	}
	defer s.readers.Add(-1)
	w.Header().Set("Content-Type", "text/event-stream")
	out := http.NewResponseController(w)
	for n := 0; ; {
		list, next, more, ended := s.hub.since(n)
		out.SetWriteDeadline(time.Now().Add(10 * time.Second))
		for _, m := range list {
			if _, err := fmt.Fprintf(w, "data: %s\n\n", m); err != nil {
				return
			}
		}
		if out.Flush() != nil {
			return
		}
		if n = next; ended {
			return
		}
		select {
		case <-more:
		case <-r.Context().Done():
			return
		}
	}
}

// press stops the run, if the page itself asks for it.
func (s *Server) press(w http.ResponseWriter, r *http.Request) {
	if r.Header.Get("Origin") != "http://"+r.Host {
		http.Error(w, "only the page itself may stop the run", http.StatusForbidden)
		return
	}
	s.stop()
	w.WriteHeader(http.StatusNoContent)
}
