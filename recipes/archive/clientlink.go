package archive

import (
	"context"
	"encoding/hex"
	"fmt"
	"time"

	"masstone/color/remedy"
)

// A ClientLink lets who has its token see an approval, until a day. The token is
// not kept: whoever reads the bench cannot use the link.
type ClientLink struct {
	Hash     string `json:"hash"`             // SHA-256 of the token, in hexadecimal digits
	Approval string `json:"approval"`         // Ref
	Until    string `json:"until"`            // UTC, 2026-12-13T12:00:00Z
	For      string `json:"for,omitempty"`    // who it was sent to
	Closed   string `json:"closed,omitempty"` // why it is valid no more
	Stamp    `json:"-"`
}

// ID is how people refer to it: the first digits of its hash.
func (l ClientLink) ID() string { return l.Hash[:8] }

// Valid tells whether it may still be used.
func (l ClientLink) Valid(now time.Time) bool {
	until, err := time.Parse(time.RFC3339, l.Until)
	return err == nil && l.Closed == "" && now.Before(until)
}

func (l *ClientLink) check() error {
	if sum, err := hex.DecodeString(l.Hash); err != nil || len(sum) != 32 {
		return fmt.Errorf("client link: %w: %q is no SHA-256 of a token", ErrInvalid, l.Hash)
	}
	if _, err := time.Parse(time.RFC3339, l.Until); err != nil {
		return fmt.Errorf("client link: %w: until %q; give a time, 2026-12-13T12:00:00Z", ErrInvalid, l.Until)
	}
	return needed("approval", l.Approval)
}

func (l *ClientLink) links() []link { return sums(kindApproval, l.Approval) }

// PutClientLink stores a link, or that it is closed.
func (b *Bench) PutClientLink(ctx context.Context, l ClientLink) (ClientLink, error) {
	return write(ctx, b, func(c *change) (ClientLink, error) {
		outcome, err := c.put(ctx, kindClientLink, &l, Replace, l.Hash)
		if err != nil || outcome == Unchanged {
			return l, err
		}
		a, err := byRef[Approval](ctx, c, kindApproval, l.Approval)
		if err != nil {
			return l, err
		}
		verb, more := "client link made", fmt.Sprintf("%s for %q until %s", l.ID(), l.For, l.Until)
		if l.Closed != "" {
			verb, more = "client link closed", fmt.Sprintf("%s: %s", l.ID(), l.Closed)
		}
		return l, c.log(ctx, verb, subject(a.Client, a.Name()), more)
	})
}

// ClientLinks lists the links, the newest first.
func (b *Bench) ClientLinks(ctx context.Context) ([]ClientLink, error) {
	return read(ctx, b, func(tx *snapshot) ([]ClientLink, error) {
		return records[ClientLink](ctx, tx, kindClientLink, newest(kindClientLink)+" ORDER BY id DESC")
	})
}

// ClientLink returns the link whose token has a hash, as it stands now.
func (b *Bench) ClientLink(ctx context.Context, hash string) (ClientLink, error) {
	return read(ctx, b, func(tx *snapshot) (ClientLink, error) {
		all, err := records[ClientLink](ctx, tx, kindClientLink, named(kindClientLink)+" LIMIT 1", hash)
		if err == nil && len(all) == 0 {
			err = fmt.Errorf("%w client link", ErrNotFound)
		}
		if err != nil {
			return ClientLink{}, err
		}
		return all[0], nil
	})
}

// ApprovalRef returns the approval with a Ref.
func (b *Bench) ApprovalRef(ctx context.Context, ref string) (Approval, error) {
	return read(ctx, b, func(tx *snapshot) (Approval, error) { return byRef[Approval](ctx, tx, kindApproval, ref) })
}

// ClientLinkID finds the link that people refer to by the first digits of its hash.
func (b *Bench) ClientLinkID(ctx context.Context, id string) (ClientLink, error) {
	all, err := b.ClientLinks(ctx)
	if err != nil {
		return ClientLink{}, err
	}
	for _, l := range all {
		if l.ID() == id {
			return l, nil
		}
	}
	return ClientLink{}, fmt.Errorf("%w client link %q; %s has them", ErrNotFound, id, remedy.Verb("approval links"))
}
