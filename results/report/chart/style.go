package chart

import _ "embed"

// Style is the style sheet of all charts. It takes the colours of the page
// where that names them: --ink, --card, --soft, --edge. It turns dark with the
// reader's system only within an element of class themed, since a page that
// stays light must not have dark charts.
//
//go:embed chart.css
var Style string
