"""What several views share: each part sees a request, and none answers an address by itself."""
