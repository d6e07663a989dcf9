package page

import (
	"bytes"
	"errors"
	"net/http"
	"strconv"
	"strings"

	"masstone/recipes/figure"
	"masstone/recipes/papers"
	"masstone/recipes/workbench"
)

// clientPath is where clients look. Who has a link needs no passcode, and sees one
// approval and nothing else.
const clientPath = "/client/"

func (q *ask) linkForm(target, client string, version string) form {
	return newForm("Let the client see it", "/approval/link", "Make a link", hidden("target", target), hidden("client", client), hidden("version", version),
		text("for", "Who gets it", ""), field{Name: "days", Label: "Days it is valid", Kind: wholeField, Value: strconv.Itoa(workbench.UsualLinkDays)})
}

// A madeLink is a link that was just made, and its address.
type madeLink struct {
	workbench.NewClientLink
	Address, Back string
}

// A clientColors is what a client sees under one light.
type clientColors struct {
	Under        string
	Part, Wanted *figure.Lab
	DE00         *figure.Number
}

// beside puts the colours of part and target beside each other by light, where
// both are known first.
func beside(v workbench.ClientView) (all []clientColors) {
	var alone []clientColors
	for _, c := range v.Colors {
		x := clientColors{Under: c.Under, Part: &c.Lab}
		for _, w := range v.Wanted {
			if w.Under != c.Under {
				continue
			}
			x.Wanted = &w.Lab
			if de, err := w.Lab.Color(w.Under).DeltaE00(c.Lab.Color(c.Under)); err == nil {
				n := figure.Number(de)
				x.DE00 = &n
			}
		}
		if x.Wanted == nil {
			alone = append(alone, x)
		} else {
			all = append(all, x)
		}
	}
	return append(all, alone...)
}

func (s *Server) clientPages() {
	answers(s, "/approval/link", "/approval/link", func(q *ask) (form, error) {
		return q.linkForm(q.text("target"), q.text("client"), q.text("version")), nil
	}, func(q *ask) (madeLink, error) {
		r := workbench.ClientLinkRequest{Target: q.text("target"), Client: q.text("client"), Version: q.whole("version", 0), For: q.text("for"), Days: q.whole("days", workbench.UsualLinkDays)}
		if err := q.fault(); err != nil {
			return madeLink{}, err
		}
		v, err := workbench.LinkApproval(q.Context(), q.bench, r)
		scheme := "http://"
		if s.o.TLS != nil {
			scheme = "https://"
		}
		back := path("/approval", "target", r.Target, "client", r.Client, "version", q.text("version"))
		return madeLink{v, scheme + q.Host + "/" + v.Path, back}, err
	}, func(q *ask, v madeLink) (view, error) {
		return view{"link", "A link for the client", v}, nil
	})
	s.get("/links", func(q *ask) (view, error) {
		v, err := workbench.ClientLinks(q.Context(), q.bench)
		return view{"links", "Links of clients", v.Links}, err
	})
	s.post("/links/close", action{nil, func(q *ask) (string, error) {
		_, err := workbench.CloseClientLink(q.Context(), q.bench, workbench.CloseClientLinkRequest{ID: q.text("link")})
		return "/links", err
	}})
	s.mux.HandleFunc(clientPath, s.client)
}

// client answers who has a link.
func (s *Server) client(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Referrer-Policy", "no-referrer") // the address is the secret
	h.Set("X-Robots-Tag", "noindex, nofollow")
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		h.Set("Allow", "GET, HEAD")
		s.refuse(w, r, http.StatusMethodNotAllowed, "this page can only be looked at")
		return
	}
	bench := s.o.Bench.With(workbench.Options{Now: s.o.Now, Program: s.o.Program})
	token, rest, _ := strings.Cut(strings.TrimPrefix(r.URL.Path, clientPath), "/")
	v, err := workbench.SeeAsClient(r.Context(), bench, token)
	if errors.Is(err, workbench.ErrNoClientLink) || err == nil && rest != "" && rest != "certificate.pdf" {
		code := http.StatusNotFound
		if !s.guesses.may(from(r), s.o.Now()) { // who has a link is never kept out
			code = http.StatusTooManyRequests
		}
		s.o.Log("a link that is not valid, from %s", from(r))
		s.toClient(w, code, "clientgone", surroundings{Title: "Not valid", Data: upperFirst(workbench.ErrNoClientLink.Error())})
		return
	}
	var paper papers.Certificate
	if err == nil && rest != "" {
		paper, err = workbench.ClientCertificate(r.Context(), bench, token, s.o.Shop)
	}
	var out bytes.Buffer
	if err == nil && rest != "" {
		err = papers.Write(&out, paper, papers.PDF, papers.Options{Size: papers.A4})
	}
	switch {
	case err != nil:
		s.o.Log("a client's page: %v", err)
		s.refuse(w, r, http.StatusInternalServerError, "the page cannot be shown; please tell whoever sent you the link")
	case rest != "":
		h.Set("Content-Type", "application/pdf")
		w.Write(out.Bytes())
	default:
		s.o.Log("%s was looked at by its link for %q, from %s", v.Approval, v.For, from(r))
		s.toClient(w, http.StatusOK, "client", surroundings{Title: v.Approval, Data: struct {
			workbench.ClientView
			Lights      []clientColors
			Shop        []string
			Certificate string
		}{v, beside(v), s.o.Shop, clientPath + token + "/certificate.pdf"}})
	}
}

// toClient shows a page that leads nowhere else and tells nothing of the bench.
func (s *Server) toClient(w http.ResponseWriter, code int, name string, v surroundings) {
	var out bytes.Buffer
	if err := pages().ExecuteTemplate(&out, name, v); err != nil {
		s.o.Log("page %s: %v", name, err)
		s.refuse(w, nil, http.StatusInternalServerError, "the page cannot be shown; please tell whoever sent you the link")
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(code)
	w.Write(out.Bytes())
}
