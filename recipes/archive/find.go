package archive

import (
	"context"
	"fmt"
	"strings"
	"time"
	"unicode"
)

// A FindQuery asks for recipes. Its zero value asks for the newest of all.
type FindQuery struct {
	// Words must all begin words of one record: of the recipe (its client, part,
	// target, resin, pigments, note), its target or one of its approvals.
	// Accents and case do not matter.
	Words        string
	Client, Part string
	Resin        string
	Since, Until time.Time // when the recipe was stored; Until is exclusive
	Approved     bool      // approved recipes only
	Limit        int       // 100 if 0
}

// A Found is a recipe with the version of the newest approval it has.
type Found struct {
	Recipe  Recipe
	Version int // 0 if it was never approved
}

// Find returns the recipes that match all of a query, the newest first.
func (b *Bench) Find(ctx context.Context, q FindQuery) ([]Found, error) {
	var where []string
	var args []any
	and := func(condition string, values ...any) {
		where = append(where, condition)
		args = append(args, values...)
	}
	if strings.TrimSpace(q.Words) != "" {
		words := wordsOf(q.Words)
		if len(words) == 0 {
			return nil, fmt.Errorf("find: %w: no letter or digit in %q", ErrInvalid, q.Words)
		}
		worded, match := b.on.Words(words)
		and(`id IN (
			SELECT record FROM word_index WHERE `+worded+` AND kind = 'recipe'
			UNION ALL
			SELECT recipe.id FROM word_index JOIN approval ON approval.id = record JOIN recipe ON recipe.sum = approval.recipe
			WHERE `+worded+` AND kind = 'approval'
			UNION ALL
			SELECT recipe.id FROM word_index JOIN target_card ON target_card.id = record
			JOIN recipe ON recipe.target = target_card.name AND recipe.client = target_card.client
			WHERE `+worded+` AND kind = 'target')`, match, match, match)
	}
	if q.Client != "" {
		and(`client = ?`, q.Client)
	}
	if q.Part != "" {
		and(`(target, client) IN (SELECT name, client FROM target_card WHERE part = ?)`, q.Part)
	}
	if q.Resin != "" {
		and(`resin = ?`, q.Resin)
	}
	if !q.Since.IsZero() {
		and(`at >= ?`, q.Since.UTC().Format(stampLayout))
	}
	if !q.Until.IsZero() {
		and(`at < ?`, q.Until.UTC().Format(stampLayout))
	}
	if q.Approved {
		and(`sum IN (SELECT recipe FROM approval)`)
	}
	rest := "ORDER BY id DESC LIMIT ?"
	if len(where) > 0 {
		rest = "WHERE " + strings.Join(where, " AND ") + " " + rest
	}
	if q.Limit <= 0 {
		q.Limit = 100
	}
	args = append(args, q.Limit)
	return read(ctx, b, func(tx *snapshot) ([]Found, error) {
		recipes, err := records[Recipe](ctx, tx, kindRecipe, rest, args...)
		if err != nil {
			return nil, err
		}
		found := make([]Found, len(recipes))
		for i, r := range recipes {
			found[i].Recipe = r
			err := tx.QueryRowContext(ctx, `SELECT coalesce(max(version), 0) FROM approval WHERE recipe = ?`, r.Ref).Scan(&found[i].Version)
			if err != nil {
				return nil, err
			}
		}
		return found, nil
	})
}

// wordsOf are the words in typed text. Signs part words, as they do in the index.
func wordsOf(text string) []string {
	return strings.FieldsFunc(text, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) && !unicode.IsMark(r) })
}
