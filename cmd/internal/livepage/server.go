// Package livepage serves a stream that is being heard as a web page, to this machine alone.
package livepage

import (
	"cmp"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"net/http"
	"strings"
	"sync"
	"time"

	"offbeat/cmd/internal/loopback"
	"offbeat/cmd/internal/streams"
	"offbeat/compare/report/page"
)

// Options say what to serve. All functions may be called from any goroutine.
type Options struct {
	Heard  func() *page.Heard // how things stand
	Mark   func(text string) error
	Report func(w io.Writer) error // the session as one page
	Every  time.Duration           // between two looks; default half a second
	Wait   time.Duration           // for a request to come whole, and for a browser to take what is sent; default 10 s
}

// Server is the page while it is served.
type Server struct {
	opt  Options
	http *http.Server
	url  string
	done chan struct{} // closed when the server is
	once sync.Once

	mu    sync.Mutex
	drawn map[string]string // the parts as last drawn
	when  time.Time         // and when
}

// maxMark is the length of a mark's text in bytes.
const maxMark = 400

// Start serves the page on a free port of the loopback address.
func Start(opt Options) (*Server, error) {
	opt.Every = cmp.Or(opt.Every, 500*time.Millisecond)
	opt.Wait = cmp.Or(opt.Wait, 10*time.Second)
	l, err := loopback.Listen(0)
	if err != nil {
		return nil, err
	}
	s := &Server{opt: opt, done: make(chan struct{}), url: l.URL()}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", s.page)
	mux.HandleFunc("GET /page.css", text("text/css; charset=utf-8", page.LiveStyle()))
	mux.HandleFunc("GET /page.js", text("text/javascript; charset=utf-8", page.LiveScript))
	mux.HandleFunc("GET /events", s.events)
	mux.HandleFunc("POST /mark", s.mark)
	mux.HandleFunc("GET /report.html", s.report)
	s.http = &http.Server{Handler: s.timed(l.Guard(mux)), ReadTimeout: opt.Wait, IdleTimeout: 6 * opt.Wait, MaxHeaderBytes: 1 << 14}
	go s.http.Serve(l)
	return s, nil
}

// URL is where the page is.
func (s *Server) URL() string { return s.url }

// Close ends the server and its open connections. It may be called again.
func (s *Server) Close() {
	s.once.Do(func() {
		close(s.done)
		s.http.Close()
	})
}

// timed gives a browser a while to take what is sent.
func (s *Server) timed(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		http.NewResponseController(w).SetWriteDeadline(time.Now().Add(s.opt.Wait))
		next.ServeHTTP(w, r)
	})
}

func text(kind, body string) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", kind)
		io.WriteString(w, body)
	}
}

func (s *Server) page(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	page.Live(streams.Cleaner(w), s.opt.Heard())
}

// events sends the parts of the page whenever they have changed (server-sent events, WHATWG HTML 9.2).
func (s *Server) events(w http.ResponseWriter, r *http.Request) {
	out := http.NewResponseController(w)
	w.Header().Set("Content-Type", "text/event-stream")
	tick := time.NewTicker(s.opt.Every)
	defer tick.Stop()
	sent := map[string]string{}
	for {
		parts, err := s.draw()
		if err != nil {
			return
		}
		changed := map[string]string{}
		for place, html := range parts {
			if old, ok := sent[place]; !ok || old != html {
				changed[place] = html
			}
		}
		if out.SetWriteDeadline(time.Now().Add(s.opt.Wait)) != nil {
			return
		}
		if len(changed) > 0 {
			b, err := json.Marshal(changed)
			if err != nil {
				return
			}
			if _, err := fmt.Fprintf(w, "event: show\ndata: %s\n\n", b); err != nil {
				return
			}
			maps.Copy(sent, changed)
		} else if _, err := io.WriteString(w, ": still here\n\n"); err != nil {
			return
		}
		if out.Flush() != nil {
			return
		}
		select {
		case <-r.Context().Done():
			return
		case <-s.done:
			return
		case <-tick.C:
		}
	}
}

// draw draws the parts, once for all who look at the same time.
func (s *Server) draw() (map[string]string, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.drawn != nil && time.Since(s.when) < s.opt.Every/2 {
		return s.drawn, nil
	}
	parts, err := page.LiveParts(s.opt.Heard())
	if err != nil {
		return nil, err
	}
	for place, html := range parts {
		parts[place] = streams.Clean(html)
	}
	s.drawn, s.when = parts, time.Now()
	return parts, nil
}

func (s *Server) mark(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, 4*maxMark)
	text := strings.TrimSpace(r.PostFormValue("text"))
	switch {
	case text == "":
		http.Error(w, "a mark needs a few words", http.StatusBadRequest)
		return
	case len(text) > maxMark:
		http.Error(w, "a mark takes a few words only", http.StatusBadRequest)
		return
	}
	if err := s.opt.Mark(text); err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	if r.Header.Get("Sec-Fetch-Mode") == "navigate" { // a browser without script
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	w.WriteHeader(http.StatusNoContent)
}

// report hands out the session as one page, which keeps its style inside and needs no policy of ours.
func (s *Server) report(w http.ResponseWriter, r *http.Request) {
	var b strings.Builder
	if err := s.opt.Report(streams.Cleaner(&b)); err != nil {
		http.Error(w, err.Error(), http.StatusConflict)
		return
	}
	w.Header().Del("Content-Security-Policy")
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Content-Disposition", `attachment; filename="offbeat-session.html"`)
	io.WriteString(w, b.String())
}
