package archive

import (
	"context"
	"fmt"
	"masstone/color/remedy"
	"strings"
)

// A Client is who parts are made for.
type Client struct {
	Name  string `json:"name"`
	Note  string `json:"note,omitempty"`
	Stamp `json:"-"`
}

// A Part is something made for a client, in one or more colours.
type Part struct {
	Client string `json:"client"`
	Name   string `json:"name"`
	Note   string `json:"note,omitempty"`
	Stamp  `json:"-"`
}

// PutClient adds a client, or with Replace supersedes the card.
func (b *Bench) PutClient(ctx context.Context, k Client, on OnChange) (Outcome, error) {
	return write(ctx, b, func(c *change) (Outcome, error) {
		return c.putLogged(ctx, kindClient, &k, on, k.Name)
	})
}

// PutPart adds a part of a known client, or with Replace supersedes its card.
func (b *Bench) PutPart(ctx context.Context, p Part, on OnChange) (Outcome, error) {
	return write(ctx, b, func(c *change) (Outcome, error) {
		return c.putLogged(ctx, kindPart, &p, on, p.Client, p.Name)
	})
}

// Clients lists the clients by name.
func (b *Bench) Clients(ctx context.Context) ([]Client, error) {
	return read(ctx, b, func(tx *snapshot) ([]Client, error) {
		return records[Client](ctx, tx, kindClient, newest(kindClient)+" ORDER BY name")
	})
}

// Parts lists the parts of a client, or of all clients if client is empty.
func (b *Bench) Parts(ctx context.Context, client string) ([]Part, error) {
	return read(ctx, b, func(tx *snapshot) ([]Part, error) {
		return records[Part](ctx, tx, kindPart, newest(kindPart)+" AND (client = ?1 OR ?1 = '') ORDER BY client, name", client)
	})
}

// A Target is a colour somebody wants.
type Target struct {
	Client      string    `json:"client,omitempty"`
	Part        string    `json:"part,omitempty"` // a part of the client
	Name        string    `json:"name"`           // unique among the targets of a client
	Readings    []Reading `json:"readings"`
	ThicknessMM float64   `json:"thickness_mm,omitempty"` // of the part; 0 if not known
	ThicknessSD *float64  `json:"thickness_sd,omitempty"` // mm, of a casting of it; nil for the usual
	FlatMM      float64   `json:"flat_mm,omitempty"`      // width of what is flat of the part; 0 if not known
	Backing     string    `json:"backing,omitempty"`      // behind the part
	Tolerance   float64   `json:"tolerance,omitempty"`    // largest difference the client accepts
	Formula     string    `json:"formula,omitempty"`      // of the tolerance: CIEDE2000, CMC(2:1), ...
	// Limits are tolerances per axis (L, a, b, C, H), where the client gave them.
	Limits map[string]float64 `json:"limits,omitempty"`
	Note   string             `json:"note,omitempty"`
	Stamp  `json:"-"`
}

// PutTarget adds a target, or with Replace supersedes its card. A client or
// part it names for the first time is added too.
func (b *Bench) PutTarget(ctx context.Context, t Target, on OnChange) (Outcome, error) {
	if t.Readings == nil {
		t.Readings = []Reading{}
	}
	if err := t.check(); err != nil { // before its client is introduced
		return "", err
	}
	return write(ctx, b, func(c *change) (Outcome, error) {
		if err := c.introduce(ctx, t.Client, t.Part); err != nil {
			return "", err
		}
		return c.putLogged(ctx, kindTarget, &t, on, t.Client, t.Name)
	})
}

// introduce adds a client and a part unless they are known.
func (c *change) introduce(ctx context.Context, client, part string) error {
	if client == "" {
		return nil
	}
	if _, found, err := c.latest(ctx, kindClient, []any{client}); err != nil {
		return err
	} else if !found {
		if _, err := c.putLogged(ctx, kindClient, &Client{Name: client}, Refuse, client); err != nil {
			return err
		}
	}
	if part == "" {
		return nil
	}
	_, found, err := c.latest(ctx, kindPart, []any{client, part})
	if err != nil || found {
		return err
	}
	_, err = c.putLogged(ctx, kindPart, &Part{Client: client, Name: part}, Refuse, client, part)
	return err
}

// Targets lists the targets of a client, or all if client is empty.
func (b *Bench) Targets(ctx context.Context, client string) ([]Target, error) {
	return read(ctx, b, func(tx *snapshot) ([]Target, error) {
		return records[Target](ctx, tx, kindTarget, newest(kindTarget)+" AND (client = ?1 OR ?1 = '') ORDER BY client, name", client)
	})
}

// Target returns a target by name. With an empty client it is the one without a
// client, or else the only one of that name: ErrAmbiguous otherwise, naming the
// clients.
func (b *Bench) Target(ctx context.Context, client, name string) (Target, error) {
	return read(ctx, b, func(tx *snapshot) (Target, error) { return target(ctx, tx, client, name) })
}

func target(ctx context.Context, q reader, client, name string) (Target, error) {
	found, err := records[Target](ctx, q, kindTarget, `WHERE id IN (
		SELECT (SELECT max(card.id) FROM target_card card WHERE card.client = target.client AND card.name = target.name)
		FROM target WHERE name = ?1 AND (client = ?2 OR ?2 = '')) ORDER BY client`, name, client)
	switch {
	case err != nil:
		return Target{}, err
	case len(found) == 1, len(found) > 1 && found[0].Client == "":
		return found[0], nil
	case len(found) > 1:
		var clients []string
		for _, t := range found {
			clients = append(clients, fmt.Sprintf("%q", t.Client))
		}
		return Target{}, fmt.Errorf("target %q: %w: clients %s each have one; say which with %s", name, ErrAmbiguous, strings.Join(clients, ", "), remedy.Input("client"))
	}
	all, err := names(ctx, q, "target", "name")
	if err != nil {
		return Target{}, err
	}
	err = unknown("target", name, all)
	if client != "" {
		err = fmt.Errorf("client %q: %w", client, err)
	}
	return Target{}, err
}

// TargetRef returns the target card with a Ref, superseded or not.
func (b *Bench) TargetRef(ctx context.Context, ref string) (Target, error) {
	return read(ctx, b, func(tx *snapshot) (Target, error) { return byRef[Target](ctx, tx, kindTarget, ref) })
}
