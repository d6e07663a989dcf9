// Package kept has the documents that the bench keeps beside the columns of its
// records: what a recipe was found with, what is in a pot, the verdict on a
// part. Their bytes are part of what checksums of approvals cover, so keys,
// order and digits may grow by keys that are left out when empty, and change in
// no other way.
package kept
