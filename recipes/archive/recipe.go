package archive

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"masstone/recipes/archive/engine"
)

// A Recipe is loadings found by a match, or typed in. It is written once.
type Recipe struct {
	Fact
	Name        string             `json:"name,omitempty"` // such as surest or cheapest
	Resin       string             `json:"resin"`
	Calibration string             `json:"calibration,omitempty"` // Ref of the calibration it was solved with
	Client      string             `json:"client,omitempty"`
	Target      string             `json:"target,omitempty"`
	TargetCard  string             `json:"target_card,omitempty"` // Ref of the target as it was; the bench fills it in
	Corrects    string             `json:"corrects,omitempty"`    // Ref of the recipe this one corrects
	Loadings    map[string]float64 `json:"loadings"`              // phr by pigment code
	ThicknessMM float64            `json:"thickness_mm,omitempty"`
	Backing     string             `json:"backing,omitempty"`
	Predicted   []Lab              `json:"predicted"` // by light; the first is the main one
	// Differences from the target, CIEDE2000 unless the target says otherwise.
	DE00         float64 `json:"de00"`          // as predicted
	ExpectedDE00 float64 `json:"expected_de00"` // with the doubt counted
	Upper95DE00  float64 `json:"upper95_de00"`
	Chance       float64 `json:"chance"` // of landing within tolerance, 0 to 1
	Note         string  `json:"note,omitempty"`
	// Document is whatever else the program keeps with it; the archive stores it
	// without reading it.
	Document json.RawMessage `json:"document,omitempty"`
}

// ID is how people refer to it: R12.
func (r Recipe) ID() string { return fmt.Sprintf("R%d", r.Number) }

// AddRecipes stores recipes, such as the short list of a match, all or none.
// It returns them with their numbers.
func (b *Bench) AddRecipes(ctx context.Context, recipes ...Recipe) ([]Recipe, error) {
	return write(ctx, b, func(c *change) ([]Recipe, error) {
		stored := make([]Recipe, len(recipes))
		for i, r := range recipes {
			if err := c.addRecipe(ctx, &r); err != nil {
				return nil, fmt.Errorf("recipe %d of %d: %w", i+1, len(recipes), err)
			}
			stored[i] = r
		}
		return stored, nil
	})
}

func (c *change) addRecipe(ctx context.Context, r *Recipe) error {
	if r.Predicted == nil {
		r.Predicted = []Lab{}
	}
	if r.Target != "" {
		t, err := target(ctx, c, r.Client, r.Target)
		if err != nil {
			return err
		}
		r.Client = t.Client
		if r.TargetCard == "" {
			r.TargetCard = t.Ref
		}
	}
	var err error
	if r.Number, err = c.number(ctx, kindRecipe); err != nil {
		return err
	}
	if err := c.insert(ctx, kindRecipe, "", r); err != nil {
		return err
	}
	return c.log(ctx, "recipe added", r.ID(), subject(r.Client, r.Target))
}

// Recipe returns a recipe by its ID, such as R12 or 12.
func (b *Bench) Recipe(ctx context.Context, id string) (Recipe, error) {
	return read(ctx, b, func(tx *snapshot) (Recipe, error) {
		return byNumber[Recipe](ctx, tx, kindRecipe, "R", id)
	})
}

// RecipeRef returns the recipe with a Ref.
func (b *Bench) RecipeRef(ctx context.Context, ref string) (Recipe, error) {
	return read(ctx, b, func(tx *snapshot) (Recipe, error) { return byRef[Recipe](ctx, tx, kindRecipe, ref) })
}

// Recipes lists the recipes for a target, newest first.
func (b *Bench) Recipes(ctx context.Context, client, name string) ([]Recipe, error) {
	return read(ctx, b, func(tx *snapshot) ([]Recipe, error) {
		t, err := target(ctx, tx, client, name)
		if err != nil {
			return nil, err
		}
		return records[Recipe](ctx, tx, kindRecipe, "WHERE target = ? AND client = ? ORDER BY id DESC", t.Name, t.Client)
	})
}

// byNumber returns a fact by letter and number, such as R12, r12 or 12.
func byNumber[T any, P interface {
	*T
	placed
}](ctx context.Context, q engine.Queryer, k kind, letter, id string) (T, error) {
	var none T
	digits := strings.TrimPrefix(strings.ToUpper(strings.TrimSpace(id)), letter)
	n, err := strconv.ParseInt(digits, 10, 64)
	if err != nil || n < 1 {
		return none, notFound(id, "%s %q; its name is %s and a number, such as %s12", k.name, id, letter, letter)
	}
	v, err := one[T, P](ctx, q, k, "WHERE id = ?", n)
	if !errors.Is(err, sql.ErrNoRows) {
		return v, err
	}
	var last int64
	if err := q.QueryRowContext(ctx, "SELECT coalesce(max(id), 0) FROM "+k.table).Scan(&last); err != nil {
		return none, err
	}
	if last == 0 {
		return none, notFound(id, "%s %s%d; the bench has none yet", k.name, letter, n)
	}
	return none, notFound(id, "%s %s%d; the newest is %s%d", k.name, letter, n, letter, last)
}
