"""Addresses of the app."""

from django.urls import path

from sites.views import home

urlpatterns = [
    path("", home.home, name="home"),
    path("health", home.health, name="health"),
]
