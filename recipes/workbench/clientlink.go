package workbench

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"time"

	"masstone/recipes/archive"
	"masstone/recipes/figure"
	"masstone/recipes/papers"
)

// How long a client's link is valid.
const (
	UsualLinkDays = 14
	mostLinkDays  = 366
)

// A ClientLinkRequest asks for a link by which a client sees an approval.
type ClientLinkRequest struct {
	Target, Client string
	Version        int    // of the approval, the newest if 0
	For            string // who gets it
	Days           int    // for which it is valid, 1 to 366
}

// A ClientLink is a link by which a client sees an approval, and nothing else.
type ClientLink struct {
	ID       string `json:"link" doc:"by which it is closed"`
	Approval string `json:"approval"`
	Client   string `json:"client,omitempty"`
	For      string `json:"for,omitempty" doc:"who it was sent to"`
	Until    string `json:"until"`
	Valid    bool   `json:"valid" doc:"neither closed nor past its day"`
	Closed   string `json:"closed,omitempty" doc:"why it is valid no more"`
	At       string `json:"at"`
	Who      string `json:"who"`
}

// A NewClientLink is a link that was just made. Its token is told this once: the
// bench keeps only a hash of it.
type NewClientLink struct {
	ClientLink
	Token string `json:"token"`
	Path  string `json:"path" doc:"to put behind the address that serve tells"`
}

// A ClientLinkList is the links of a bench, the newest first.
type ClientLinkList struct {
	Links []ClientLink `json:"links" as:"approval link"`
}

func clientLinkView(ctx context.Context, b *Bench, a *archive.Bench, l archive.ClientLink) (ClientLink, error) {
	approval, err := a.ApprovalRef(ctx, l.Approval)
	return ClientLink{l.ID(), approval.Name(), approval.Client, l.For, l.Until, l.Valid(b.now()), l.Closed, figure.At(l.At), l.Who}, err
}

// hashOf is what the bench keeps of a token. A token has 130 random bits, so that
// no slower hash is needed.
func hashOf(token string) string {
	sum := sha256.Sum256([]byte(token))
	return hex.EncodeToString(sum[:])
}

// LinkApproval makes a link by which a client sees an approval in a browser, where
// the bench is served, until a day.
func LinkApproval(ctx context.Context, b *Bench, r ClientLinkRequest) (NewClientLink, error) {
	var v NewClientLink
	if r.Days < 1 || r.Days > mostLinkDays {
		return v, outOfRange("days", r.Days, "1 to 366")
	}
	v.Token = rand.Text()
	err := together(ctx, b, &v, func(a *archive.Bench) error {
		approval, err := a.Approval(ctx, r.Client, r.Target, r.Version)
		if err != nil {
			return err
		}
		l, err := a.PutClientLink(ctx, archive.ClientLink{Hash: hashOf(v.Token), Approval: approval.Ref, For: r.For,
			Until: b.now().UTC().Add(time.Duration(r.Days) * 24 * time.Hour).Truncate(time.Second).Format(time.RFC3339)})
		if err != nil {
			return err
		}
		v.ClientLink, err = clientLinkView(ctx, b, a, l)
		return err
	})
	v.Path = "client/" + v.Token
	return v, err
}

// ClientLinks lists the links of a bench.
func ClientLinks(ctx context.Context, b *Bench) (ClientLinkList, error) {
	v := ClientLinkList{Links: []ClientLink{}}
	all, err := b.archive.ClientLinks(ctx)
	for _, l := range all {
		if err != nil {
			break
		}
		var view ClientLink
		view, err = clientLinkView(ctx, b, b.archive, l)
		v.Links = append(v.Links, view)
	}
	return v, err
}

// A CloseClientLinkRequest says that a link is valid no more.
type CloseClientLinkRequest struct {
	ID, Why string
}

// CloseClientLink makes a link valid no more; closing it again changes nothing.
func CloseClientLink(ctx context.Context, b *Bench, r CloseClientLinkRequest) (ClientLink, error) {
	var v ClientLink
	err := together(ctx, b, &v, func(a *archive.Bench) error {
		l, err := a.ClientLinkID(ctx, r.ID)
		if err != nil {
			return err
		}
		if l.Closed == "" {
			if l.Closed = r.Why; r.Why == "" {
				l.Closed = "closed"
			}
			if l, err = a.PutClientLink(ctx, l); err != nil {
				return err
			}
		}
		v, err = clientLinkView(ctx, b, a, l)
		return err
	})
	return v, err
}

// ErrNoClientLink is the same for a link that never was, is closed or past its day,
// so that who guesses learns nothing.
var ErrNoClientLink = errors.New("this link is not valid, or not any more; ask whoever sent it for another")

// A ClientView is what a client sees of an approval: the colours, not the recipe.
type ClientView struct {
	Approval string  `json:"approval"`
	Client   string  `json:"client,omitempty"`
	For      string  `json:"for,omitempty"`
	By       string  `json:"by"`
	On       string  `json:"on"`
	Until    string  `json:"until"`
	Colors   []Color `json:"colors" doc:"of the part, as read, or as predicted without a pour"`
	Wanted   []Color `json:"wanted" doc:"of the target"`
	Poured   bool    `json:"poured" doc:"a part was cast and read"`
	Checksum string  `json:"checksum"`

	target, name string
	version      int
}

// clientSees finds what a token leads to.
func clientSees(ctx context.Context, b *Bench, token string) (ClientView, archive.Approval, error) {
	l, err := b.archive.ClientLink(ctx, hashOf(token))
	if errors.Is(err, archive.ErrNotFound) || err == nil && !l.Valid(b.now()) {
		return ClientView{}, archive.Approval{}, ErrNoClientLink
	}
	if err != nil {
		return ClientView{}, archive.Approval{}, err
	}
	a, err := b.archive.ApprovalRef(ctx, l.Approval)
	return ClientView{Approval: a.Name(), Client: a.Client, For: l.For, By: a.By, On: figure.At(a.At)[:10], Until: l.Until, Checksum: a.Ref, Poured: len(a.Pours) > 0,
		Colors: []Color{}, Wanted: []Color{}}, a, err
}

// SeeAsClient is what a client sees who has a token.
func SeeAsClient(ctx context.Context, b *Bench, token string) (ClientView, error) {
	v, a, err := clientSees(ctx, b, token)
	if err != nil {
		return v, err
	}
	for _, l := range a.Colors {
		v.Colors = append(v.Colors, Color{l.Color().Under.String(), figure.LabOf(l.Color())})
	}
	t, err := b.archive.TargetRef(ctx, a.TargetCard)
	if err != nil {
		return v, err
	}
	shown, _, err := targetView(t)
	for _, c := range shown.Colors {
		v.Wanted = append(v.Wanted, Color{c.Under, c.Lab})
	}
	if c := shown.OfSpectra; c != nil {
		v.Wanted = append(v.Wanted, Color{c.Under, c.Lab})
	}
	return v, err
}

// ClientCertificate is the certificate of the approval that a token leads to, without
// what tells of the recipe: its number, the calibration it is of, and the lots, which
// name the pastes in it.
func ClientCertificate(ctx context.Context, b *Bench, token string, shop []string) (papers.Certificate, error) {
	_, a, err := clientSees(ctx, b, token)
	if err != nil {
		return papers.Certificate{}, err
	}
	part, err := approvedPart(ctx, b.archive, a)
	if err != nil {
		return papers.Certificate{}, err
	}
	p, err := part.certificate(ctx, b.archive, CertificateRequest{}, b.heading(shop))
	p.Recipe, p.Calibration, p.Lots = "", "", nil
	return p, err
}
