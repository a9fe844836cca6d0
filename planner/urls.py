"""Addresses of the whole house."""

from django.urls import include, path

urlpatterns = [
    path("sign-in/", include("allauth.urls")),
    path("", include("sites.urls")),
]
