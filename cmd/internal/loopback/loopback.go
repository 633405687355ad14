// Package loopback serves pages to this machine alone: on the loopback address, to who asks for that address, and from no
// other page.
package loopback

import (
	"fmt"
	"net"
	"net/http"
	"net/url"
	"slices"
	"strconv"
)

// Place is where a page is served.
type Place struct {
	net.Listener
	hosts []string // what a browser may call us
}

// Listen takes a port of the loopback address, a free one where port is 0.
func Listen(port int) (*Place, error) {
	l, err := net.Listen("tcp", net.JoinHostPort("127.0.0.1", strconv.Itoa(port)))
	if err != nil {
		return nil, fmt.Errorf("the page can't be served: %w", err)
	}
	_, taken, err := net.SplitHostPort(l.Addr().String())
	if err != nil {
		return nil, fmt.Errorf("the page can't be served: %w", err)
	}
	return &Place{l, []string{"127.0.0.1:" + taken, "localhost:" + taken}}, nil
}

// URL is the address of the place.
func (p *Place) URL() string { return "http://" + p.Addr().String() + "/" }

// policy lets a page use its own script and style and nothing else.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src data:; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// Guard turns away who does not ask for the loopback address by name or number (a page elsewhere whose name was made to point
// here) and who comes from another page. A request that changes something must say where it comes from.
func (p *Place) Guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		if !slices.Contains(p.hosts, r.Host) {
			http.Error(w, "this page is served to its own address only", http.StatusForbidden)
			return
		}
		origin := r.Header.Get("Origin")
		if origin == "" && r.Method == http.MethodGet {
			next.ServeHTTP(w, r)
			return
		}
		if u, err := url.Parse(origin); err != nil || u.Scheme != "http" || u.Host != r.Host {
			http.Error(w, "this page takes nothing from other pages", http.StatusForbidden)
			return
		}
		next.ServeHTTP(w, r)
	})
}
