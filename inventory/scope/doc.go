// Package scope tells what of a service an actor may see: stations, places, bags and what was recorded of them.
package scope
