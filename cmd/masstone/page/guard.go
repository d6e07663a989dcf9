package page

import (
	"context"
	"fmt"
	"net"
	"net/http"
	"slices"
	"strings"
	"time"
)

// Limits of a request.
const (
	mostForm = 256 << 10 // bytes
	mostFile = 16 << 20  // bytes, of a form with a file
	longest  = 90 * time.Second
)

// guard lets through what asks for this server by its own name, from its own
// pages, and is not too large; it says what a browser may do with the answer.
func (s *Server) guard(next http.Handler) http.Handler {
	origin := http.NewCrossOriginProtection()
	origin.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.refuse(w, r, http.StatusForbidden, "this form was sent by a page of another site; open the bench page and send it from there")
	}))
	checked := origin.Handler(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		if !s.named(r.Host) {
			s.refuse(w, r, http.StatusMisdirectedRequest, "this server is not called that; open it by the address it printed when it started")
			return
		}
		if len(r.URL.RequestURI()) > 8<<10 {
			s.refuse(w, r, http.StatusRequestURITooLong, "the address is too long")
			return
		}
		most := int64(mostForm)
		if strings.HasPrefix(r.Header.Get("Content-Type"), "multipart/form-data") {
			most = mostFile
		}
		r.Body = http.MaxBytesReader(w, r.Body, most)
		if r.URL.Path != changesPath {
			ctx, cancel := context.WithTimeout(r.Context(), longest)
			defer cancel()
			r = r.WithContext(ctx)
		}
		defer func() {
			if fault := recover(); fault != nil {
				s.o.Log("%s %s: internal fault (%v); please report this line", r.Method, r.URL.Path, fault)
				s.refuse(w, r, http.StatusInternalServerError, "internal fault; what was stored before stays. Please report what you did")
			}
		}()
		checked.ServeHTTP(w, r)
	})
}

// named tells whether a host is this server. Without that a foreign name that
// leads here could make a browser speak for its owner.
func (s *Server) named(host string) bool {
	name, _, err := net.SplitHostPort(host)
	if err != nil {
		name = host
	}
	name = strings.ToLower(strings.Trim(name, "[]"))
	return slices.Contains(s.o.Hosts, name)
}

// refuse answers in a line of text.
func (s *Server) refuse(w http.ResponseWriter, _ *http.Request, code int, text string) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.WriteHeader(code)
	fmt.Fprintln(w, text)
}
