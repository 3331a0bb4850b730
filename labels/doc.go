// Package labels draws the printed front doors of the service: bag labels, contents cards, store shelf labels and
// device labels, each with a QR symbol that opens its page.
//
// It stands alone: label data in, PDF, SVG or PNG out. It reads no clock, no file and no database, so the same labels
// always give the same bytes.
//
// A label kind draws itself into a [Size] as a drawing of rectangles, polygons, text and one symbol; the PDF, SVG and
// PNG writers only translate that drawing. Nothing is drawn that was not fitted first: a name is shortened by rule,
// and what cannot be printed so that it can be read is refused with the reason and the nearest sheet that can
// ([RefusedError]).
//
// All lengths are millimetres unless their name says otherwise; x runs right and y runs down from the top left
// corner.
package labels
