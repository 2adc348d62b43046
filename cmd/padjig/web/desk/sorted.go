package desk

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"padjig/cmd/padjig/web/page"
)

// head is the head of a column that rows can be sorted by.
type head struct {
	Name, Text, Href, Sort string // Sort: "ascending" or "descending"; empty where they are not sorted by it
	Num                    bool
}

// sortRows sorts the rows of a table by a column, "-NAME" from the top down, and gives its heads, each
// with the address that sorts by it. What has no value comes last.
func sortRows(t *page.Table, by string, address func(by string) string) (heads []head) {
	name, down := strings.CutPrefix(by, "-")
	for i, c := range t.Columns {
		first, then := c.Name, "-"+c.Name
		if c.Num { // who asks for the numbers looks for the worst
			first, then = then, first
		}
		h := head{Name: c.Name, Text: c.Head, Href: address(first), Num: c.Num}
		if c.Name == name {
			h.Sort = map[bool]string{true: "descending", false: "ascending"}[down]
			if by == first {
				h.Href = address(then)
			}
			slices.SortStableFunc(t.Rows, func(a, b []page.Cell) int { return inOrder(a[i].Value, b[i].Value, down) })
		}
		heads = append(heads, h)
	}
	return heads
}

func inOrder(a, b any, down bool) int {
	switch x, y := missing(a), missing(b); {
	case x && y:
		return 0
	case x:
		return 1
	case y:
		return -1
	}
	var order int
	if x, is := a.(float64); is {
		order = cmp.Compare(x, b.(float64))
	} else {
		order = strings.Compare(fmt.Sprint(a), fmt.Sprint(b))
	}
	if down {
		return -order
	}
	return order
}

func missing(v any) bool {
	x, is := v.(float64)
	return v == nil || v == "" || is && math.IsNaN(x)
}
